#!/bin/sh
# clean_root.sh DEB [ROOT]: the package on a bare Debian. ROOT, if given, is kept and used again.
# Needs root, debootstrap and a Debian mirror (MIRROR, SUITE).
set -eu
deb=$(realpath "$1")
root=${2:-}
. "$(dirname "$0")/bare_root.sh"
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8 "$@"; }

echo "== installing $(basename "$deb")"
there=$(inside mktemp -d)  # seen from inside
cp "$deb" "$root$there/proveout.deb"
inside apt-get update -qq
inside env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$there/proveout.deb" \
  >"$root$there/install.log" 2>&1 || {
  tail -n 20 "$root$there/install.log" >&2
  exit 1
}
inside proveout --version
[ "$(inside proveout --version)" = "proveout $(dpkg-deb -f "$deb" Version)" ]
inside ldd /usr/bin/proveout | grep 'not found' && exit 1

demo=/usr/share/doc/proveout/examples/door-pull
for job in faulty:1 good:0; do
  name=${job%:*}
  echo "== proveout run $name.toml"
  status=0
  inside proveout run "$demo/$name.toml" -o "$there/$name" --fail-on warning || status=$?
  # The good job may have warnings, too; the faulty one must.
  [ "$status" -le 1 ]
  [ "$name" = good ] || [ "$status" -eq 1 ]
  for file in result.json moves.csv report.html junit.xml findings.sarif; do
    [ -s "$root$there/$name/$file" ]
  done
done

echo "== removing it again"
inside env DEBIAN_FRONTEND=noninteractive apt-get purge -y -qq proveout >/dev/null 2>&1
left=$(inside find /usr /etc /opt -name '*proveout*')
[ -z "$left" ] || {
  echo "left behind: $left"
  exit 1
}
rm -rf "${root:?}$there"
echo "== done"
