#!/bin/sh
# container_file.sh [ROOT]: the steps of docs/ci/Containerfile, one after the other, in a bare root of the Debian it begins with, with a build
# folder of elsewhere in the copy; then its entry point on the door pull. ROOT, if given, is kept and used again. CCACHE_DIR, where it is set, is used for
# the compiler's work. CMAKE_BUILD_PARALLEL_LEVEL is handed on. Most of an hour of one core.
# Needs root, debootstrap and a Debian mirror (MIRROR).
set -eu
source=$(cd "$(dirname "$0")/../.." && pwd)
steps=$source/docs/ci/Containerfile
SUITE=$(sed -n 's/^FROM debian:\([a-z]*\)$/\1/p' "$steps")
root=${1:-}
. "$(dirname "$0")/bare_root.sh"
fail() {
  echo "$*"
  exit 1
}
for place in $(grep '^COPY' "$steps" | awk '{ print $3 }'); do
  [ "$place" = /proveout ] || fail "COPY to $place: not known here"
  rm -rf "$root$place"
  mkdir "$root$place"
  (cd "$source" && git ls-files -z | tar --null -T - -c) | tar -x -C "$root$place"
  mkdir "$root$place/build"
  echo 'CMAKE_HOME_DIRECTORY:INTERNAL=/elsewhere' >"$root$place/build/CMakeCache.txt"
done
# What the image's environment holds when a step runs, and the step, as a script in the root.
environment='export PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8'
[ -z "${CMAKE_BUILD_PARALLEL_LEVEL:-}" ] || environment="$environment CMAKE_BUILD_PARALLEL_LEVEL=$CMAKE_BUILD_PARALLEL_LEVEL"
cache=
if [ -n "${CCACHE_DIR:-}" ] && [ -d "${CCACHE_DIR:-}" ]; then
  cache=$CCACHE_DIR
  mkdir -p "$root/ccache"
  chroot "$root" apt-get update -qq
  chroot "$root" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends ccache >/dev/null 2>&1
  environment="$environment CCACHE_DIR=/ccache CCACHE_BASEDIR=/proveout CCACHE_NOHASHDIR=1 CCACHE_DEPEND=${CCACHE_DEPEND:-}
export CCACHE_SLOPPINESS=${CCACHE_SLOPPINESS:-} CMAKE_CXX_COMPILER_LAUNCHER=ccache CMAKE_C_COMPILER_LAUNCHER=ccache"
fi
folder=/
inside() { # COMMAND
  printf '%s\ncd %s\n%s\n' "$environment" "$folder" "$1" >"$root/step.sh"
  # As in a container: /proc and the devices, in a mount namespace that ends with the step.
  # shellcheck disable=SC2016  # (its own arguments)
  unshare --mount sh -c 'mount -t proc proc "$1/proc" && mount --rbind /dev "$1/dev"
    [ -z "$2" ] || mount --bind "$2" "$1/ccache"
    exec chroot "$1" env -i sh /step.sh' sh "$root" "$cache"
}
while read -r word rest; do
  case $word in
    '' | '#'* | FROM | COPY) ;;
    WORKDIR) folder=$rest ;;
    ENV) environment="$environment
export $rest" ;;
    RUN)
      echo "== $rest"
      inside "$rest" </dev/null || fail "$rest: exit status $?"
      ;;
    ENTRYPOINT) entry=$(echo "$rest" | tr -d '[]",') ;;
    *) fail "$word: not known here" ;;
  esac
done <"$steps"
echo "== $entry run fixtures/door-pull/faulty.toml"
status=0
inside "$entry run fixtures/door-pull/faulty.toml --voxel 1 -o /image-out" >"$root/said" 2>&1 || status=$?
[ "$status" -eq 1 ] || fail "exit status $status: $(tail -n 5 "$root/said")"
[ -s "$root/image-out/report.html" ] || fail "no page: $(tail -n 5 "$root/said")"
echo "== done"
