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
# What the pages promise of a command: the start of its line, then a pattern that what it said must match, or
# FILE=pattern for what it wrote. Blanks in patterns are dots.
promises='
proveout propose good-a.nc good-b.nc|2.sides,.3.tools
proveout propose good-a.nc good-b.nc|Hold.zeros
proveout propose good-a.nc good-b.nc|pull.toml=said:.good-a.nc.line.4
proveout propose good-a.nc good-b.nc|pull.toml=stickout.=.*#\?
proveout run pull.toml --voxel 0.8 -o pull-out|^0.errors
proveout run pull.toml --voxel 0.8 -o pull-out|Not.checked:.*holder-contact
proveout run pull.toml --voxel 0.8 -o pull-out|pull-out/report.html=</html>
proveout run pull.toml --voxel 0.8 -o pull-out|pull-out/result.json="zero_in_words"
proveout run faulty-a.nc faulty-b.nc|faulty-[ab]\.nc:[0-9]
proveout run faulty-a.nc faulty-b.nc|rapid-contact
proveout run faulty-a.nc faulty-b.nc|Not.checked
proveout run faulty-a.nc faulty-b.nc|faulty-out/proposed.toml=fitted
proveout compare faulty-out|gone.in.pull-out
proveout shop --keep good.toml --shop shop|^kept:.machines/benchtop.router
proveout shop --keep good.toml --shop shop|^kept:.tools/6.mm.flat
proveout shop --shop shop|T1,.6.mm.flat,.3.flutes,.stands.out.32.mm,.holder
proveout propose good-a.nc --blank 160x60x32 --shop shop|kept.toml=kept.=."6.mm.flat,.3.flutes".*by.its.number
proveout check good.toml --voxel 0.3 --no-html --baseline kept.json --accept|kept.json="findings"
proveout check good.toml --voxel 0.3 --no-html --baseline kept.json -o|^Nothing.that.is.held.moved
proveout check good.toml --voxel 0.3 --no-html --baseline kept.json -o|out/junit.xml=<testsuite
proveout check good.toml --voxel 0.3 --no-html --baseline kept.json -o|out/findings.sarif="runs"
proveout check . --voxel 0.8 --no-html --fail-on none --accept|accepted-out/summary.json=good
proveout check . --voxel 0.8 --no-html --fail-on none -o|^2.of.2.jobs:.as.before
proveout gather|^2.of.2.jobs:.as.before
proveout run mdf.toml|mdf
proveout run good.toml --voxel 0.3 --against|metal-out/report.html=MDF.proof,.mdf
proveout compare mdf-out|mdf.*6061-T6
proveout compare mdf-out|proof.in.another.material
proveout retime mdf.toml|further.passes.on.[1-9]
proveout calibrate runs.csv|^ *tool_change
proveout calibrate runs.csv|^ *good-a\.nc.*%
proveout calibrate runs.csv|fitted.toml=^tool_change_s
proveout run faulty.toml --voxel 0.4 -o page-out|page-out/report.html=faulty-a\.nc
'
count=0 kept=0
for page in "$source"/docs/tutorial-*.md; do
  cp -r "$source/fixtures/door-pull" "$work/job"
  cd "$work/job"
  # A folder of two jobs is one: the page runs it three times.
  case $page in *-in-ci.md) rm faulty.toml wrong-corner.toml ;; esac
  sed -n 's/^    \(proveout .*\)$/\1/p' "$page" >"$work/lines"
  while read -r line; do
    status=0
    sh -c "$line" >"$work/said" 2>&1 </dev/null || status=$?
    case "$status:$line" in
      0:* | 1:*faulty*) ;;
      *)
        echo "$page: status $status: $line"
        cat "$work/said"
        exit 1
        ;;
    esac
    count=$((count + 1))
    echo "$promises" | while IFS='|' read -r start pattern; do
      case "$start:$line" in
        :*) continue ;;
        "$start:$start"*) ;;
        *) continue ;;
      esac
      file=$work/said
      case $pattern in
        *.json=* | *.html=* | *.xml=* | *.sarif=* | *.toml=*)
          file=${pattern%%=*}
          pattern=${pattern#*=}
          ;;
      esac
      grep -Eq -- "$pattern" "$file" || {
        echo "$page: nothing like '$pattern' in what this gave: $line"
        cat "$work/said"
        exit 1
      }
      echo "$start" >>"$work/kept"
    done || exit 1
  done <"$work/lines"
  cd "$work"
  rm -rf "$work/job"
done
kept=$(wc -l <"$work/kept")
echo "$count commands, $kept promises"
[ "$count" -ge 10 ]
# Every promise met its command.
[ "$kept" -ge "$(echo "$promises" | grep -c '|')" ]
