#!/bin/sh
# consumer.sh CMAKE BUILD SOURCE VERSION SANITIZERS
set -eu
cmake=$1 build=$2 source=$3 version=$4 sanitizers=$5
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$cmake" --install "$build" --prefix "$work/installed" >"$work/install.log"
[ "$("$work/installed/bin/proveout" --version)" = "proveout $version" ]

flags=
[ -z "$sanitizers" ] || flags="-fsanitize=$sanitizers"
"$cmake" -S "$source/tests/consumer" -B "$work/build" -G Ninja -DCMAKE_PREFIX_PATH="$work/installed" \
  -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS="$flags" >"$work/configure.log" 2>&1 || {
  cat "$work/configure.log"
  exit 1
}
"$cmake" --build "$work/build"

# No path of this machine's source tree may be left in the package.
if grep -rn "$source" "$work/installed/lib" --include='*.cmake'; then
  echo "the CMake package names the source tree"
  exit 1
fi

mkdir "$work/job"
cp "$source/tests/report/page/job/"* "$work/job/"
"$work/build/worked_example" "$work/job/block.toml" | tee "$work/said"
grep -q '^setup .*removed$' "$work/said"
grep -q '^left: [1-9][0-9]* mm3 in [1-9]' "$work/said"

# The page shows the source that was built, word for word.
sed -n '/^```cpp$/,/^```$/p' "$source/docs/api.md" | sed '1d;$d' >"$work/shown.cpp"
diff "$work/shown.cpp" "$source/tests/consumer/worked_example.cpp"
