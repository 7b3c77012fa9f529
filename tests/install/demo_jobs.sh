#!/bin/sh
# Writes the demo jobs into the current folder and checks three of them with the hairline of the PATH: what each answers is known
# (fixtures/demo.sh).
set -eu
hairline demo --small harbour
cd harbour
check() {
    status=0
    hairline check "$1" --record harbour-grey.json --today 2026-11-07 >"$1.txt" || status=$?
    if [ "$status" -ne "$2" ] || ! head -n 1 "$1.txt" | grep -q "^$3 "; then
        echo "$1: exit status $status, expected $2 and $3" >&2
        cat "$1.txt" >&2
        exit 1
    fi
}
check hull.zip 0 CLEAR
check nameplate.zip 1 HOLD
check gallery-small.zip 1 HOLD
