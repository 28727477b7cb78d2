#!/bin/sh
# tsan_tbb.sh DIR: Debian's source of TBB, built in DIR with the thread sanitizer. Prints the folder
# to put into LD_LIBRARY_PATH. Needs apt-get, dpkg-dev, cmake, g++ and a Debian mirror; installs nothing.
set -eu
mkdir -p "$1/lists/partial"
cd "$1"
. /etc/os-release
echo "deb-src ${MIRROR:-http://deb.debian.org/debian} $VERSION_CODENAME main" >sources.list
from="-o Dir::Etc::sourcelist=$PWD/sources.list -o Dir::Etc::sourceparts=- -o Dir::State::lists=$PWD/lists"
# shellcheck disable=SC2086
apt-get $from update -qq >&2
# shellcheck disable=SC2086
apt-get $from source --download-only onetbb >&2
rm -rf source
dpkg-source -x onetbb_*.dsc source >&2
cmake -S source -B build -DTBB_TEST=OFF -DTBB_EXAMPLES=OFF -DTBB_STRICT=OFF -DTBBMALLOC_BUILD=OFF \
  -DTBB_SANITIZE=thread -DCMAKE_BUILD_TYPE=RelWithDebInfo >&2
cmake --build build --target tbb >&2
dirname "$(find "$PWD/build" -name 'libtbb.so.12' | head -n 1)"
