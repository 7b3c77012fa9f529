#!/bin/sh
# Installs what is missing, builds the release preset, and runs every test. Ends with ctest's own summary.
set -eu

source_dir=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$source_dir/fixtures/packages.sh"

# shellcheck disable=SC2086 # one word per package
install_packages $program_packages $test_packages

cd "$source_dir"
cmake --preset release
cmake --build --preset release
exec ctest --preset release -j "$(nproc)" "$@"
