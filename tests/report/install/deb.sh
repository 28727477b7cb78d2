#!/bin/sh
# deb.sh CMAKE BUILD SOURCE VERSION SANITIZERS
set -eu
cmake=$1 build=$2 version=$4
if [ -n "$5" ]; then
  echo "instrumented builds are not packed"
  exit 0
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$work" && "$(dirname "$cmake")/cpack" -G DEB --config "$build/CPackConfig.cmake" -B "$work" >"$work/log" 2>&1) || {
  cat "$work/log"
  exit 1
}
deb=$(ls "$work"/proveout_*.deb)
[ "$(dpkg-deb -f "$deb" Version)" = "$version" ]
dpkg-deb -f "$deb" Depends | grep -q libopenvdb || {
  echo "the package does not depend on the libraries it needs"
  exit 1
}

# Into an empty root, by dpkg itself. What the package depends on is this machine's.
root=$work/root
mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates" "$root/var/lib/dpkg/triggers"
: >"$root/var/lib/dpkg/status"
PATH=$PATH:/usr/sbin:/sbin dpkg --root="$root" --force-depends --force-not-root --force-script-chrootless \
  -i "$deb" >"$work/log" 2>&1 || {
  cat "$work/log"
  exit 1
}
proveout=$root/usr/bin/proveout
[ -s "$root/usr/share/man/man1/proveout.1" ] || [ -s "$root/usr/share/man/man1/proveout.1.gz" ]
[ -s "$root/usr/share/doc/proveout/README.md" ]
[ "$("$proveout" --version)" = "proveout $version" ]
demo=$root/usr/share/doc/proveout/examples/door-pull
for job in good:0 faulty:1; do
  status=0
  "$proveout" run "$demo/${job%:*}.toml" --voxel 0.8 --quiet --fail-on warning -o "$work/${job%:*}" || status=$?
  [ "$status" -eq "${job#*:}" ] || {
    echo "${job%:*}.toml: exit status $status, not ${job#*:}"
    exit 1
  }
  [ -s "$work/${job%:*}/result.json" ]
done
