#!/bin/sh
# Coverage-guided fuzzing of all that reads files, from the corpus in fixtures: sh .ci/fuzz.sh [SECONDS [NAME...]]
# Seconds are for each of nc, job, result and mesh.
# Needs clang with libFuzzer, and for result the libraries of a finished build (PROVEOUT_BUILD). What it finds is
# left in the build folder as crash-*.
# (unreachable is left out: the TOML library marks a place so that letters beyond ASCII in bare keys do reach.)
set -eu
cd "$(dirname "$0")/.."
seconds=${1:-30}
[ $# -eq 0 ] || shift
names=${*:-nc job result mesh}
build=${PROVEOUT_FUZZ_BUILD:-build-fuzz}
libraries=${PROVEOUT_BUILD:-build}
export LSAN_OPTIONS="suppressions=$PWD/tests/sanitizers/leaks.supp:print_suppressions=0"
clang=$(command -v clang++ || command -v clang++-14)
options="-std=c++20 -O1 -g -DNDEBUG -DFMT_HEADER_ONLY -fsanitize=address,undefined -fno-sanitize-recover=undefined
-fno-sanitize=unreachable -I. -isystem /usr/include/eigen3"

# What is watched for new paths while a fuzzer runs; the rest is linked as it was built.
watched() {
  case $1 in
    result) echo "$(find parser -name '*.cpp') report/compare/compare.cpp report/text/words.cpp" ;;
    nc) find parser/base parser/nc -name '*.cpp' ;;
    *) find parser -name '*.cpp' ;;
  esac
}

object() { echo "$build/$(echo "${1%.cpp}" | tr / _).o"; }

stale() {  # source: there is no object newer than it and all headers
  made=$(object "$1")
  [ -z "$(find "$made" -newer "$1" 2>/dev/null)" ] || [ -n "$(find parser sim report -newer "$made" -name '*.h')" ]
}

# shellcheck disable=SC2016  # what stands in single quotes is expanded by the shell of each job
build_fuzzer() {  # name
  for source in $(watched "$1"); do
    ! stale "$source" || echo "$source $(object "$source")"
  done | compile="$clang $options -fsanitize=fuzzer-no-link" xargs -r -P "$(nproc)" -L 1 sh -c '$compile -c "$1" -o "$2"' _
  objects=
  for source in $(watched "$1"); do objects="$objects $(object "$source")"; done
  rest="-lpugixml -lz -lcrypto -lfmt"
  case $1 in
    result)
      rest="$libraries/report/libproveout_report.a $libraries/sim/libproveout_sim.a $libraries/parser/libproveout_parser.a
        -lopenvdb -ltbb -lpng -lmeshoptimizer -lboost_program_options -lImath-3_1 $rest" ;;
  esac
  # shellcheck disable=SC2086
  "$clang" $options -fsanitize=fuzzer "tests/fuzz/$1_fuzz.cpp" $objects $rest -o "$build/$1_fuzz"
}

for name in $names; do
  mkdir -p "$build/$name"
  echo "== building ${name}_fuzz"
  build_fuzzer "$name"
done
for name in $names; do
  echo "== fuzzing ${name}_fuzz for $seconds s"
  seeds=
  for folder in "fixtures/corpus/$name" "fixtures/bad/$name"; do
    [ ! -d "$folder" ] || seeds="$seeds $folder"
  done
  words=
  [ ! -f "tests/fuzz/$name.dict" ] || words="-dict=tests/fuzz/$name.dict"
  # shellcheck disable=SC2086
  "$build/${name}_fuzz" $words -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=8192 -print_final_stats=1 \
    -artifact_prefix="$build/" -verbosity=0 "$build/$name" $seeds
done
