#!/bin/sh
# Fuzzes every reader of foreign files: sh tests/fuzz.sh [SECONDS [TARGET...]], 60 s each without an argument.
# Ends with 1 where an input was found that breaks a target, and says where it lies and how to keep it.
set -eu

source_dir=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$source_dir/fixtures/packages.sh"

# shellcheck disable=SC2086 # one word per package
install_packages $program_packages $fuzz_packages

cd "$source_dir"
seconds=${1:-60}
[ $# -eq 0 ] || shift
[ $# -gt 0 ] || set -- zip png manifest description draft image_stack record readings queue_list queue_file outcome
cmake --preset fuzz
cmake --build --preset fuzz
work=build/fuzz/fuzz
build/fuzz/bin/fuzz_seeds "$work/seeds"

if [ -w /dev/shm ]; then export TMPDIR=/dev/shm; fi  # targets that read files write thousands of them a second
status=0
for target in "$@"; do
    echo "== $target: $seconds s"
    mkdir -p "$work/grown/$target" "$work/found/$target"
    # Inputs that reach new code stay in grown/ for the next run. One that takes over 10 s or 1 GiB counts as found too.
    build/fuzz/bin/fuzz_"$target" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=1024 -max_len=4096 \
        -print_final_stats=1 -verbosity=0 -dict="tests/fuzz/dictionaries/$target.dict" \
        -artifact_prefix="$work/found/$target/" "$work/grown/$target" "$work/seeds/$target" && continue
    status=1
    cat <<MESSAGE
$target: an input breaks it; it lies in $work/found/$target/, named above.
  again:  build/fuzz/bin/fuzz_$target FILE
  keep:   mkdir -p tests/fuzz/kept/$target && cp FILE tests/fuzz/kept/$target/WHAT-IS-WRONG   (every ctest runs it)
MESSAGE
done
exit "$status"
