#!/bin/sh
# The package in a Debian 12 made anew, with nothing in it but what is essential and what the package says it needs.
. "$(dirname -- "$0")/support.sh"
has dpkg-shlibdeps || skip "dpkg-dev is missing"
has mmdebstrap || skip "mmdebstrap is missing"
[ "$(id -u)" -eq 0 ] || skip "a root folder of its own needs root"
for sources in /etc/apt/sources.list.d/debian.sources /etc/apt/sources.list; do [ ! -s "$sources" ] || break; done
package=$(echo "$packages"/hairline_*.deb)
cp "$package" "$here/demo_jobs.sh" "$room"
cat >"$room/inside.sh" <<'END'
set -eu
dpkg -i /test/*.deb
! dpkg -s libtbb-dev cmake 2>/dev/null
mkdir /tmp/empty && chown nobody /tmp/empty && cd /tmp/empty
setpriv --reuid=nobody --clear-groups sh /test/demo_jobs.sh
touch /test/passed
END
status=0
mmdebstrap --quiet --variant=essential \
    --include="$(dpkg-deb -f "$package" Depends | sed 's/ *([^)]*)//g; s/, /,/g')" \
    --customize-hook="mkdir \"\$1/test\"; cp '$room'/*.deb '$room'/*.sh \"\$1/test\"" \
    --customize-hook='chroot "$1" sh /test/inside.sh' \
    bookworm "$room/root" "$sources" >"$room/log" 2>&1 || status=$?
if grep -qiE 'could not resolve|unable to connect|failed to fetch|could not connect' "$room/log"; then
    skip "a clean system: no Debian packages can be fetched"
fi
[ "$status" -eq 0 ] && [ -e "$room/root/test/passed" ] || fail "$(tail -n 30 "$room/log")"
