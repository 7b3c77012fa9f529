#!/bin/sh
# The Debian package: what is in it, what it needs, and what lintian says of it.
. "$(dirname -- "$0")/support.sh"
has dpkg-shlibdeps || skip "dpkg-dev is missing"
package=$(echo "$packages"/hairline_*.deb)

dpkg-deb -x "$package" "$room/root"
for file in bin/hairline share/bash-completion/completions/hairline share/zsh/vendor-completions/_hairline \
    share/fish/vendor_completions.d/hairline.fish share/doc/hairline/changelog.Debian.gz share/doc/hairline/copyright; do
    [ -s "$room/root/usr/$file" ] || fail "$file is missing"
done
! has help2man || [ -s "$room/root/usr/share/man/man1/hairline-check.1.gz" ] || fail "no manual pages"
[ ! -e "$room/root/usr/include" ] || fail "headers are in the program's package"
depends=$(dpkg-deb -f "$package" Depends)
for library in libc6 libdate-tz3 libdeflate0 libfmt9 libnlopt0 libsqlite3-0 libstdc++6 libtbb12 libzip4 tzdata; do
    case ", $depends," in *", $library "* | *", $library,"*) ;; *) fail "$library is not in Depends: $depends" ;; esac
done
[ "$(dpkg-deb -f "$package" Section)" = graphics ] || fail "section"
elsewhere "$room/root/usr/bin" sh -s <"$here/demo_jobs.sh"

has lintian || skip "lintian is missing"
lintian --allow-root --fail-on error "$package" || fail "lintian finds errors"
