#!/bin/sh
# consumer.sh CMAKE BUILD SOURCE VERSION SANITIZERS
set -eu
cmake=$1 build=$2 source=$3 version=$4 sanitizers=$5
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$cmake" --install "$build" --prefix "$work/installed" >"$work/install.log"
[ "$("$work/installed/bin/proveout" --version)" = "proveout $version" ]

# The manual page reads as one, the completions are scripts of their shells and offer every command,
# the documents' links lead to files that are there.
share=$work/installed/share
man=$(find "$share/man/man1" -name 'proveout.1*')
case $man in
  *.gz) gzip -dc "$man" ;;
  *) cat "$man" ;;
esac >"$work/proveout.1"
bash_completion=$(find "$share" -path '*bash-completion/completions/proveout')
zsh_completion=$(find "$share" -path '*zsh*/_proveout')
fish_completion=$(find "$share" -path '*fish*/proveout.fish')
bash -n "$bash_completion"
commands=$("$work/installed/bin/proveout" --help | sed -n 's/^  \([a-z][a-z]*\) .*/\1/p')
[ "$(echo "$commands" | wc -l)" -ge 13 ]
for command in $commands; do
  for file in "$work/proveout.1" "$bash_completion" "$zsh_completion" "$fish_completion"; do
    grep -qw -- "$command" "$file" || {
      echo "$file does not name $command"
      exit 1
    }
  done
done
offered=$(bash -c '. "$1"; COMP_WORDS=(proveout re); COMP_CWORD=1; COMP_LINE="proveout re"; COMP_POINT=11
  "$(complete -p proveout | sed "s/.*-F \([^ ]*\).*/\1/")"; echo "${COMPREPLY[@]}"' _ "$bash_completion")
[ "$(echo "$offered" | tr ' ' '\n' | sort | tr '\n' ' ')" = "reach retime " ] || {
  echo "proveout re<TAB> offers: $offered"
  exit 1
}
pages=$(find "$share/doc/proveout" -name '*.md')
[ "$(echo "$pages" | wc -l)" -ge 20 ]
for page in $pages; do
  grep -o '](\([^)# ]*\)' "$page" | sed 's/^](//' | grep -v '^[a-z]*:' | while read -r target; do
    [ -e "$(dirname "$page")/$target" ] || echo "$page: $target"
  done
done >"$work/broken_links"
if [ -s "$work/broken_links" ]; then
  echo "links of the installed documents that lead nowhere:"
  cat "$work/broken_links"
  exit 1
fi

flags=
[ -z "$sanitizers" ] || flags="-fsanitize=$sanitizers"
"$cmake" -S "$source/tests/consumer" -B "$work/build" -G Ninja -DCMAKE_PREFIX_PATH="$work/installed" \
  -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS="$flags" >"$work/configure.log" 2>&1 || {
  cat "$work/configure.log"
  exit 1
}
"$cmake" --build "$work/build"

# The same example without CMake, by pkg-config, from a folder that was moved.
mv "$work/installed" "$work/moved"
PKG_CONFIG_PATH=$(dirname "$(find "$work/moved" -name proveout.pc)")
export PKG_CONFIG_PATH
[ "$(pkg-config --modversion proveout)" = "$version" ]
# shellcheck disable=SC2046,SC2086
c++ -O1 $flags "$source/tests/consumer/worked_example.cpp" -o "$work/by_pkg_config" $(pkg-config --cflags --libs proveout)
mv "$work/moved" "$work/installed"

# No path of this machine's source tree may be left in the package.
if grep -rn "$source" "$work/installed/lib" --include='*.cmake' --include='*.pc'; then
  echo "the package names the source tree"
  exit 1
fi

mkdir "$work/job"
cp "$source/tests/report/page/job/"* "$work/job/"
"$work/build/worked_example" "$work/job/block.toml" | tee "$work/said"
grep -q '^setup .*removed$' "$work/said"
grep -q '^left: [1-9][0-9]* mm3 in [1-9]' "$work/said"
"$work/by_pkg_config" "$work/job/block.toml" >"$work/said_too"
diff "$work/said" "$work/said_too"

# The page shows the source that was built, word for word.
sed -n '/^```cpp$/,/^```$/p' "$source/docs/api.md" | sed '1d;$d' >"$work/shown.cpp"
diff "$work/shown.cpp" "$source/tests/consumer/worked_example.cpp"
