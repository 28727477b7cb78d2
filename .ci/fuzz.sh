#!/bin/sh
# A minute of coverage-guided fuzzing of the parsers, from the corpus in fixtures: sh .ci/fuzz.sh [SECONDS each]
# Needs clang with libFuzzer. What it finds is left in the build folder as crash-*.
# (unreachable is left out: the TOML library marks a place so that letters beyond ASCII in bare keys do reach.)
set -eu
cd "$(dirname "$0")/.."
seconds=${1:-30}
build=${PROVEOUT_FUZZ_BUILD:-build-fuzz}
clang=$(command -v clang++ || command -v clang++-14)
mkdir -p "$build/nc" "$build/job"
for name in nc job; do
  sources=$(find parser -name '*.cpp')
  if [ ! -x "$build/${name}_fuzz" ] || [ -n "$(find parser tests/fuzz -newer "$build/${name}_fuzz" -name '*.[ch]*')" ]; then
    echo "== building ${name}_fuzz"
    if [ ! -f "$build/objects.stamp" ] || [ -n "$(find parser -newer "$build/objects.stamp" -name '*.[ch]*')" ]; then
      # shellcheck disable=SC2086  # a list of files is wanted
      printf '%s\n' $sources | xargs -P "$(nproc)" -I {} sh -c \
        'o=$(printf %s "$1" | tr / _); "$2" -std=c++20 -O1 -g -DNDEBUG -DFMT_HEADER_ONLY -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=undefined -fno-sanitize=unreachable -I. -isystem /usr/include/eigen3 -c "$1" -o "$3/${o%.cpp}.o"' _ {} "$clang" "$build"
      touch "$build/objects.stamp"
    fi
    "$clang" -std=c++20 -O1 -g -DNDEBUG -DFMT_HEADER_ONLY -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined -fno-sanitize=unreachable \
      -I. -isystem /usr/include/eigen3 "tests/fuzz/${name}_fuzz.cpp" "$build"/parser_*.o -o "$build/${name}_fuzz"
  fi
done
for name in nc job; do
  echo "== fuzzing ${name}_fuzz for $seconds s"
  seeds="fixtures/corpus/$name fixtures/bad/$name"
  # shellcheck disable=SC2086
  "$build/${name}_fuzz" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=8192 -print_final_stats=1 \
    -artifact_prefix="$build/" -verbosity=0 "$build/$name" $seeds
done
