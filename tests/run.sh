#!/bin/sh
# Installs what is missing, builds the release preset, and runs every test. Ends with ctest's own summary.
set -eu

source_dir=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$source_dir/fixtures/packages.sh"

# shellcheck disable=SC2086 # one word per package
install_packages $program_packages $test_packages $page_packages $machines_packages
if ! command -v node >/dev/null 2>&1 || ! command -v npm >/dev/null 2>&1; then
    # shellcheck disable=SC2086
    install_packages $node_packages
fi

# What drives the browser, from npm as package-lock.json says; needs no network while that stays the same.
lock=$source_dir/tests/page/package-lock.json
modules=$source_dir/tests/page/node_modules
if ! cmp -s "$lock" "$modules/installed-lock.json"; then
    if (cd "$source_dir/tests/page" && npm ci); then
        cp "$lock" "$modules/installed-lock.json"
    else
        echo "npm could not install what drives the browser; the tests of pages are skipped." >&2
    fi
fi

cd "$source_dir"
cmake --preset release
cmake --build --preset release
exec ctest --preset release -j "$(nproc)" "$@"
