#!/bin/sh
# install_paths.sh [ROOT]: how fixtures/packages.sh, which README's command and tests/run.sh begin with, gets packages on a bare Debian: as root, with
# sudo, and without either, where it must say so and change nothing. ROOT, if given, is kept and used again.
# Needs root, debootstrap and a Debian mirror (MIRROR, SUITE).
set -eu
source=$(cd "$(dirname "$0")/../.." && pwd)
root=${1:-}
. "$(dirname "$0")/bare_root.sh"
fail() {
  echo "$*"
  exit 1
}
inside() { # USER COMMAND...
  user=$1
  shift
  chroot --userspec="$user" "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/ LC_ALL=C.UTF-8 "$@"
}
installed() { inside root dpkg-query -W -f '${Status}' "$1" 2>/dev/null | grep -q 'install ok installed'; }
rm -rf "$root/proveout"
mkdir "$root/proveout"
cp -r "$source/fixtures" "$root/proveout/"
inside root apt-get update -qq
inside root sh -c 'DEBIAN_FRONTEND=noninteractive apt-get purge -y -qq sudo file sqlite3 >/dev/null 2>&1 || true'
id=$(inside root sh -c 'id -u shop 2>/dev/null || { useradd shop && id -u shop; }')

echo "== neither root nor sudo"
status=0
inside "$id" sh /proveout/fixtures/demo.sh >"$root/said" 2>&1 || status=$?
[ "$status" -ne 0 ] || fail "it went on: $(cat "$root/said")"
grep -q '^Run this as root or install sudo; it needs: .*libopenvdb-dev' "$root/said" || fail "$(cat "$root/said")"
! installed libopenvdb-dev || fail "something was installed"

echo "== no Debian"
status=0
inside "$id" sh -c 'PATH=/nowhere; . /proveout/fixtures/packages.sh; need_packages file' >"$root/said" 2>&1 || status=$?
[ "$status" -ne 0 ] || fail "it went on: $(cat "$root/said")"
grep -q 'this is no Debian' "$root/said" || fail "$(cat "$root/said")"

echo "== as root"
inside root sh -c '. /proveout/fixtures/packages.sh; need_packages file' >"$root/said" 2>&1 || fail "$(cat "$root/said")"
installed file || fail "file is not installed: $(cat "$root/said")"
inside root sh -c '. /proveout/fixtures/packages.sh; need_packages file' >"$root/said" 2>&1 || fail "$(cat "$root/said")"
[ ! -s "$root/said" ] || fail "nothing was missing, and it says: $(cat "$root/said")"

echo "== with sudo"
inside root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends sudo >/dev/null 2>&1
echo 'shop ALL=(ALL) NOPASSWD: ALL' >"$root/etc/sudoers.d/shop"
chmod 440 "$root/etc/sudoers.d/shop"
inside "$id" sh -c '. /proveout/fixtures/packages.sh; need_packages sqlite3' >"$root/said" 2>&1 || fail "$(cat "$root/said")"
installed sqlite3 || fail "sqlite3 is not installed: $(cat "$root/said")"
echo "== done"
