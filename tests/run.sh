#!/bin/sh
# Installs what the tests need, builds everything and runs all of them.
# PROVEOUT_BUILD names another build folder; the demo's is taken where it is there: nothing compiles twice. What takes
# minutes has the label nightly and is left out here: .ci/nightly runs it.
set -eu
cd "$(dirname "$0")/.."
. fixtures/packages.sh

# shellcheck disable=SC2086
need_packages $build_packages $test_packages
need_node

build=${PROVEOUT_BUILD:-build}
echo "== configuring and building in $build"
cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DPROVEOUT_ASSERT=ON -DPROVEOUT_TESTS=ON
cmake --build "$build"
echo "== testing"
ctest --test-dir "$build" --output-on-failure -j "$(nproc)" --no-tests=error -LE nightly
