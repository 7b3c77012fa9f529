# Sourced by the tests of this folder with BUILD FOLDER and PACKAGE FOLDER as arguments. A test passes, or says "skipped:", or fails.
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
source_dir=$(dirname -- "$(dirname -- "$here")")
build=$1
packages=$2
room=$(mktemp -d)
chmod 755 "$room"
trap 'rm -rf "$room"' EXIT

fail() {
    echo "failed: $*" >&2
    exit 1
}

skip() {
    echo "skipped: $*"
    exit 0
}

has() {
    command -v "$1" >/dev/null 2>&1
}

# Runs a command in a new, empty folder, with no settings but a PATH that begins with $1; as nobody where this is root.
elsewhere() {
    path=$1
    shift
    empty=$(mktemp -d)
    chmod 777 "$empty"
    user=
    [ "$(id -u)" -ne 0 ] || user="setpriv --reuid=65534 --regid=65534 --clear-groups"
    # shellcheck disable=SC2086 # words
    (cd "$empty" && $user env -i PATH="$path:/usr/bin:/bin" HOME=/nonexistent "$@") || fail "as $user: $*"
    rm -rf "$empty"
}
