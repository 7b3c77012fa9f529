#!/bin/sh
# What `cmake --install` gives, and that the program there works from an empty folder for another user.
. "$(dirname -- "$0")/support.sh"

prefix=$room/prefix
cmake --install "$build" --prefix "$prefix" >"$room/log" || fail "cmake --install: $(cat "$room/log")"
for file in bin/hairline share/bash-completion/completions/hairline share/zsh/site-functions/_hairline \
    share/fish/vendor_completions.d/hairline.fish share/doc/hairline/README.md share/doc/hairline/copyright; do
    [ -s "$prefix/$file" ] || fail "$file is missing"
done
for folder in docs formats; do
    diff -r -x broken "$source_dir/$folder" "$prefix/share/doc/hairline/$folder" || fail "$folder differs"
done
diff -r -x version.hpp -x version.hpp.in "$source_dir/include" "$prefix/include" || fail "headers differ"
[ ! -e "$prefix/share/doc/hairline/formats/broken" ] || fail "broken formats are installed"
[ ! -e "$prefix/share/doc/hairline/changelog.Debian.gz" ] || fail "the package's changelog is installed"

elsewhere "$prefix/bin" hairline --version | grep -qx 'hairline [0-9.]*' || fail "no version"
elsewhere "$prefix/bin" sh -s <"$here/demo_jobs.sh"

has help2man || skip "the manual pages: help2man is missing"
has man || skip "the manual pages: man is missing"
# Every command of the help has its page, and each page is without faults.
for page in hairline $(hairline=$prefix/bin/hairline; for parent in "" record; do
    "$hairline" $parent --help | sed -n "/^Subcommands:/,/^\$/s/^  \([a-z][a-z]*\) .*/hairline${parent:+-$parent}-\1/p"
done); do
    file=$prefix/share/man/man1/$page.1.gz
    [ -s "$file" ] || fail "$page has no manual page"
    faults=$(LC_ALL=C.UTF-8 MANROFFSEQ='' man --warnings -l "$file" 2>&1 >"$room/page")
    [ -z "$faults" ] || fail "$page: $faults"
    for part in NAME SYNOPSIS OPTIONS EXAMPLES "SEE ALSO"; do grep -qx "$part" "$room/page" || fail "$page: no $part"; done
done
# Examples keep their lines.
man -M "$prefix/share/man" hairline | grep -qx ' *hairline demo harbour' || fail "examples run together"
