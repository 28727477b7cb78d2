#!/bin/sh
# tutorials.sh PROVEOUT SOURCE: runs every command line of the tutorials, as they stand, in a copy of the
# door pull. A line is a command where it is indented by four spaces and starts with proveout.
set -eu
proveout=$1 source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/bin"
ln -s "$proveout" "$work/bin/proveout"
PATH=$work/bin:$PATH
count=0
for page in "$source"/docs/tutorial-*.md; do
  cp -r "$source/fixtures/door-pull" "$work/job"
  cd "$work/job"
  sed -n 's/^    \(proveout .*\)$/\1/p' "$page" >"$work/lines"
  while read -r line; do
    status=0
    sh -c "$line" >"$work/said" 2>&1 </dev/null || status=$?
    case "$status:$line" in
      0:* | 1:*faulty* | 1:*wrong-corner*) ;;
      *)
        echo "$page: status $status: $line"
        cat "$work/said"
        exit 1
        ;;
    esac
    count=$((count + 1))
  done <"$work/lines"
  cd "$work"
  rm -rf "$work/job"
done
echo "$count commands"
[ "$count" -ge 10 ]
