#!/bin/sh
# style.sh [BASE]: clang-format on every C++ file, clang-tidy on the sources changed since BASE (default: by the last
# twenty commits, or as many as the clone has) and not committed yet. Fails on any finding, and where a tool is missing.
# clang-tidy takes up to half a minute for a file that includes OpenVDB, so it starts with what changed last and begins
# no more after PROVEOUT_TIDY_SECONDS (default 75); what it did not get to is said.
set -eu
cd "$(dirname "$0")/.."
for tool in git cmake clang++ clang-format clang-tidy; do
  if ! command -v "$tool" >/dev/null 2>&1; then
    echo "style.sh needs $tool, which is not installed" >&2
    exit 1
  fi
done

files=$(git ls-files '*.cpp' '*.h')
echo "$files" | xargs clang-format --dry-run -Werror
echo "clang-format: looked at $(echo "$files" | wc -l) files"

# A configuration of its own, never built: the database of a GCC build names GCC's precompiled header, which
# clang-tidy takes for its own and refuses.
build=${PROVEOUT_TIDY_BUILD:-build-tidy}
mkdir -p "$build"
cmake -S . -B "$build" -DCMAKE_CXX_COMPILER=clang++ -DCMAKE_DISABLE_PRECOMPILE_HEADERS=ON -DPROVEOUT_TESTS=ON \
  -DPROVEOUT_FUZZ=ON -DPROVEOUT_PAGE=OFF >"$build/log" 2>&1 || { cat "$build/log"; exit 1; }

# Newest first, each once.
changed() {
  git diff --name-only HEAD
  git ls-files --others --exclude-standard
  if [ -n "${1:-}" ]; then
    git log --format= --name-only "$1..HEAD"
  else
    git log --format= --name-only -n 20
  fi
}
changed "$@" >"$build/changed"
awk '/\.cpp$/ && !seen[$0]++' "$build/changed" | while read -r file; do
  [ ! -f "$file" ] || ! grep -q "\"file\": \"$PWD/$file\"" "$build/compile_commands.json" || echo "$file"
done >"$build/sources"
wanted=$(wc -l <"$build/sources")
if [ "$wanted" -eq 0 ]; then
  echo "clang-tidy: no source has changed"
  exit 0
fi

: >"$build/looked"
until=$(($(date +%s) + ${PROVEOUT_TIDY_SECONDS:-75}))
failed=0
# shellcheck disable=SC2016  # what stands in single quotes is expanded by the shell of each file
xargs -P "$(nproc)" -n 1 sh -c '
  [ "$(date +%s)" -lt "$1" ] || exit 0
  found=0
  out=$(clang-tidy -p "$2" --quiet --warnings-as-errors="*" "$3" 2>&1) || found=1
  echo "$3" >>"$2/looked"
  [ "$found" -eq 0 ] || echo "$out"
  exit "$found"
' _ "$until" "$build" <"$build/sources" || failed=1
looked=$(wc -l <"$build/looked")
echo "clang-tidy: looked at $looked of $wanted changed sources, those changed last first"
[ "$looked" -eq "$wanted" ] || echo "clang-tidy: no time for $((wanted - looked)): $(grep -vxFf "$build/looked" \
  "$build/sources" | head -n 20 | tr '\n' ' ')"
[ "$failed" -eq 0 ] && [ "$looked" -gt 0 ]
