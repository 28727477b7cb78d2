#!/bin/sh
# The kernels on arm64: kernel_bytes built for this processor and for arm64, run here and under
# qemu, must print the same. With its NEON branch that is all of the vector layer, the distances,
# volumes and fields of one tile. The whole program is not cross-built here (README.md).
# Debian: g++-aarch64-linux-gnu qemu-user libeigen3-dev. Arguments: a folder to build in.
set -eu
cd "$(dirname "$0")/../.."
out=${1:-build-arm64}
mkdir -p "$out"
for tool in aarch64-linux-gnu-g++ qemu-aarch64 g++; do
  command -v "$tool" >/dev/null || { echo "$tool is not installed" >&2; exit 2; }
done
sources="sim/stock/kernel_base.cpp sim/stock/sweep.cpp sim/solid/tool_body.cpp parser/nc/motion.cpp
  parser/base/assert.cpp tests/arm64/kernel_bytes.cpp"
# As CMakeLists.txt has it; Eigen alone from the build machine, or its C library's headers come too.
flags="-std=c++20 -O2 -ffp-contract=off -fno-math-errno -fno-trapping-math -Wno-psabi -I. -DPROVEOUT_ASSERTIONS=1"
ln -sfn /usr/include/eigen3 "$out/eigen3"
for compiler in g++ aarch64-linux-gnu-g++; do
  objects=
  for source in $sources; do
    object=$out/$compiler-$(basename "$source" .cpp).o
    # shellcheck disable=SC2086
    "$compiler" $flags -isystem "$out/eigen3" -c "$source" -o "$object"
    objects="$objects $object"
  done
  # shellcheck disable=SC2086
  "$compiler" $objects -o "$out/kernel_bytes-$compiler"
done
"$out/kernel_bytes-g++" >"$out/here.txt"
qemu-aarch64 -L /usr/aarch64-linux-gnu "$out/kernel_bytes-aarch64-linux-gnu-g++" >"$out/arm64.txt"
cmp "$out/here.txt" "$out/arm64.txt"
echo "arm64: the same $(wc -l <"$out/here.txt") lines"
