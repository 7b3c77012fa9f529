#!/bin/sh
# Browser tests of the pages the program writes: page_tests.sh BINARY TEST_FILE. Exit status 77: skipped, with the reason.
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
skip() {
    echo "skipped: $1 (sh tests/run.sh installs it)"
    exit 77
}
command -v node >/dev/null 2>&1 || skip "no node"
[ -x /usr/bin/chromium ] || skip "no chromium"
[ -d "$here/node_modules/playwright-core" ] && [ -d "$here/node_modules/axe-core" ] || skip "tests/page/node_modules is not there"
HAIRLINE_BINARY=$1 exec node --test "$here/$2"
