#!/bin/sh
# Makes the Debian package the tests below look at.
. "$(dirname -- "$0")/support.sh"
has dpkg-shlibdeps || skip "dpkg-dev is missing"
rm -rf "$packages"
(cd "$build" && cpack -G DEB -B "$packages") >"$room/log" 2>&1 || fail "cpack: $(cat "$room/log")"
[ "$(find "$packages" -maxdepth 1 -name '*.deb' | wc -l)" -eq 1 ] || fail "not one package"
