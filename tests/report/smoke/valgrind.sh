#!/bin/sh
# valgrind.sh VALGRIND PROVEOUT SOURCE: a whole small job, and the quick commands, without a memory error.
set -eu
valgrind=$1 proveout=$2 source=$3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp "$source"/tests/report/page/job/* "$work/"
cd "$work"
for words in "run block.toml --voxel 1 --no-html --quiet -o out" "time side-a.nc" "list side-b.nc" \
  "compare out/result.json out/result.json"; do
  status=0
  # shellcheck disable=SC2086
  "$valgrind" -q --error-exitcode=9 "$proveout" $words >said 2>errors || status=$?
  if [ "$status" -gt 1 ]; then
    echo "status $status: proveout $words"
    cat errors
    exit 1
  fi
done
