#!/bin/sh
# What the program is built from comes with the packages that fixtures/demo.sh installs, not with those of the tests alone.
. "$(dirname -- "$0")/support.sh"
has ninja && has dpkg-query && has apt-cache || skip "needs ninja, dpkg and apt"
. "$source_dir/fixtures/packages.sh"

# Headers of every object of the program, the tests' own left out: the compiler's lists, which ninja keeps.
ninja -C "$build" -t deps | awk '/^[^ ]/ {ours = /^CMakeFiles\//} ours && $1 ~ /^\/usr\// {print $1}' |
    xargs realpath -s | sort -u >"$room/headers"
[ -s "$room/headers" ] || skip "not built by ninja, or without a header of the system"
xargs dpkg-query -S <"$room/headers" | sed 's/: .*//; s/:[a-z0-9]*$//' | sort -u >"$room/used"
# shellcheck disable=SC2086 # one word per package
apt-cache depends --recurse --installed --no-recommends --no-suggests --no-conflicts --no-breaks --no-replaces --no-enhances \
    $program_packages | sed -n 's/^\([a-z0-9][^: ]*\).*/\1/p' | sort -u >"$room/brought"
beyond=$(comm -23 "$room/used" "$room/brought")
[ -z "$beyond" ] || fail "program_packages in fixtures/packages.sh lack" $beyond
