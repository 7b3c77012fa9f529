#!/bin/sh
# A project outside this one finds the installed library, and what it computes is what the program says, byte for byte.
. "$(dirname -- "$0")/support.sh"

prefix=$room/prefix
cmake --install "$build" --prefix "$prefix" --component library >"$room/log" || fail "cmake --install: $(cat "$room/log")"
[ ! -e "$prefix/bin" ] || fail "the library brings the program"
cmake -S "$here/outside" -B "$room/build" -G Ninja -DCMAKE_PREFIX_PATH="$prefix" >"$room/log" || fail "$(cat "$room/log")"
cmake --build "$room/build" >"$room/log" || fail "$(cat "$room/log")"
cd "$room"
build/outside harbour >outside.json || fail "exit status $?"
"$build/bin/hairline" check harbour/nameplate.zip --record harbour/harbour-grey.json --today 2026-11-07 --fail-on never \
    --json harbour/program.json >/dev/null
cmp outside.json harbour/program.json || fail "the library and the program differ"
# Another version is not taken for the one asked for.
sed 's/find_package(hairline [0-9.]*/find_package(hairline 99.0/' "$here/outside/CMakeLists.txt" >"$room/CMakeLists.txt"
cp "$here/outside/main.cpp" "$room"
if cmake -S "$room" -B "$room/later" -G Ninja -DCMAKE_PREFIX_PATH="$prefix" >"$room/log" 2>&1; then
    fail "version 99.0 was found"
fi
grep -q 'compatible with requested version "99.0"' "$room/log" || fail "$(cat "$room/log")"
