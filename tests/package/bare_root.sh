# Sourced: a bare Debian in $root, made anew in a folder that goes at the end, or $root as it is where it is set and holds one.
# Needs root, debootstrap and a Debian mirror (MIRROR, SUITE).
suite=${SUITE:-bookworm} mirror=${MIRROR:-http://deb.debian.org/debian}
if [ -z "${root:-}" ]; then
  work=$(mktemp -d)
  trap 'rm -rf "$work"' EXIT
  root=$work/root
fi
if [ ! -x "$root/usr/bin/apt-get" ]; then
  echo "== a bare $suite in $root"
  debootstrap --variant=minbase "$suite" "$root" "$mirror" >"$root.log" 2>&1 || {
    tail -n 20 "$root.log" >&2
    exit 3
  }
fi
