#!/bin/sh
# The vector layer as WebAssembly: built with clang and lld, run in node, held to JavaScript's arithmetic.
# Argument: a folder to build in.
set -eu
cd "$(dirname "$0")/../.."
out=${1:-build-webassembly}
mkdir -p "$out"
for tool in clang++ wasm-ld node; do
  command -v "$tool" >/dev/null || { echo "$tool is not installed" >&2; exit 2; }
done
clang++ --target=wasm32 -msimd128 -ffreestanding -nostdlib -fno-builtin -std=c++20 -O2 -ffp-contract=off -I. \
  tests/webassembly/vector_layer.cpp -Wl,--no-entry -o "$out/vector_layer.wasm"
node tests/webassembly/vector_layer.mjs "$out/vector_layer.wasm"
