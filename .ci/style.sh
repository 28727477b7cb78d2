#!/bin/sh
# style.sh [BASE]: clang-format and clang-tidy on the C++ files changed since BASE (default: the commit
# before this one) and not committed yet. Needs a configured build folder for clang-tidy (PROVEOUT_BUILD,
# default build-tests); where a tool is not there it says so and leaves it out.
set -eu
cd "$(dirname "$0")/.."
base=${1:-HEAD~1}
git rev-parse -q --verify "$base^{commit}" >/dev/null || base=$(git hash-object -t tree /dev/null)
files=$(git diff --name-only --diff-filter=d "$base" -- '*.cpp' '*.h')
if [ -z "$files" ]; then
  echo "no C++ file has changed since $base"
  exit 0
fi
if command -v clang-format >/dev/null 2>&1; then
  # shellcheck disable=SC2086
  clang-format --dry-run -Werror $files
  echo "format of $(echo "$files" | wc -l) files: as agreed"
else
  echo "clang-format is not installed; format not looked at"
fi
build=${PROVEOUT_BUILD:-build-tests}
sources=$(echo "$files" | grep '^\(parser\|report\)/.*\.cpp$' | head -n 6 || true)
if [ -n "$sources" ] && [ -f "$build/compile_commands.json" ] && command -v clang-tidy >/dev/null 2>&1; then
  # shellcheck disable=SC2086
  timeout 300 clang-tidy -p "$build" --quiet --extra-arg=-Wno-unknown-warning-option $sources 2>/dev/null ||
    [ $? -eq 124 ]
else
  echo "clang-tidy: nothing to look at, or not installed"
fi
