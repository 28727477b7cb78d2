#!/bin/sh
# Installs what the tests need, builds everything and runs all of them.
# PROVEOUT_BUILD names another build folder.
set -eu
cd "$(dirname "$0")/.."
. fixtures/packages.sh

# shellcheck disable=SC2086
need_packages $build_packages $test_packages
need_node

build=${PROVEOUT_BUILD:-build-tests}
echo "== configuring and building in $build"
cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DPROVEOUT_TESTS=ON -DPROVEOUT_WERROR=ON
cmake --build "$build"
echo "== testing"
ctest --test-dir "$build" --output-on-failure -j "$(nproc)" --no-tests=error
