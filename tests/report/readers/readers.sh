#!/bin/sh
# readers.sh NAME SOURCE FOLDER PROVEOUT: has one outside program read what prepare.sh made. Exit status 77: it is not installed.
set -eu
name=$1 source=$2 folder=$3 proveout=$4
here=$source/tests/report/readers
cd "$folder"

need() {  # PROGRAM PACKAGE
  command -v "$1" >/dev/null 2>&1 || {
    echo "SKIPPED: $1 is not installed; Debian's package $2 brings it"
    exit 77
  }
}
fail() {
  echo "$*"
  exit 1
}
# Python as Debian installs it: its packages are not seen by another one.
debian_python=/usr/bin/python3
need "$debian_python" python3
figure() { "$debian_python" -c "import json; r = json.load(open('$1')); print($2)"; }
near() {  # GOT EXPECTED SHARE WHAT
  awk -v a="$1" -v b="$2" -v s="$3" 'BEGIN { d = a - b; exit !(d < 0 ? -d <= s * b : d <= s * b) }' || fail "$4: $1, not $2"
}

junit() {
  need xmllint libxml2-utils
  for report in */junit.xml; do
    xmllint --noout --schema "$here/schemas/jenkins-junit.xsd" "$report" 2>&1 || fail "$report"
    suites=$(xmllint --xpath 'count(//testsuite)' "$report")
    for i in $(seq "$suites"); do
      xmllint --xpath "(//testsuite)[$i]" "$report" >suite.xml
      xmllint --noout --schema "$here/schemas/surefire-test-report.xsd" suite.xml 2>&1 || fail "$report, suite $i"
    done
  done
  sed 's/<testcase /<testcase when="now" /' faulty/junit.xml >spoilt.xml
  ! xmllint --noout --schema "$here/schemas/jenkins-junit.xsd" spoilt.xml 2>/dev/null || fail "the schema takes anything"
}

stl() {
  need admesh admesh
  for i in 1 2; do
    admesh "all/setup-$i.stl" >said
    grep -q '^Number of facets *: *'"$(figure all/result.json "r['meshes'][$i - 1]['triangles']")" said || fail "$(cat said)"
    for none in 'Total disconnected facets' 'Facets reversed' 'Backwards edges' 'Degenerate facets' 'Normals fixed'; do
      grep -Eq "$none *: *0( |$)" said || fail "setup-$i.stl: $none: $(cat said)"
    done
    near "$(sed -n 's/.*Volume *: *//p' said)" "$(figure all/result.json "r['setups'][$i - 1]['stock_left_mm3']")" 0.005 "volume of setup-$i.stl"
  done
  # A file that has lost ten of its triangles is told of.
  head -c "$(($(wc -c <all/setup-1.stl) - 500))" all/setup-1.stl >short.stl
  ! admesh short.stl 2>/dev/null | grep -q 'Total disconnected facets *: *0 ' || fail "admesh takes anything"
}

assimp_reads() {
  need assimp assimp-utils
  for file in setup-1.ply setup-2.ply setup-1.3mf setup-2.3mf; do
    assimp info "all/$file" >said 2>&1 || fail "$file: $(cat said)"
    setup=$(echo "$file" | tr -dc 12)
    grep -Eq "^Faces: *$(figure all/result.json "r['meshes'][${setup#0} - 1]['triangles']" )$" said || fail "$file: $(grep -E '^(Faces|Vert)' said)"
  done
}

vtp() {
  "$debian_python" -c 'import vtkmodules.vtkIOXML' 2>/dev/null || {
    echo "SKIPPED: VTK is not installed; Debian's package python3-vtk9 brings it"
    exit 77
  }
  "$debian_python" "$here/read_vtp.py" all
}

vdb() {
  need vdb_print libopenvdb-tools
  for file in setup-1.vdb setup-2.vdb left.vdb; do
    timeout 60 vdb_print -l "all/$file" >said || fail "$file"
    grep -q 'class: level set' said || fail "$file: $(cat said)"
    grep -q 'voxel size: 0.5' said || fail "$file: $(cat said)"
    grep -q '^Name: provenance' said || fail "$file: no provenance"
  done
}

svg() {
  need rsvg-convert librsvg2-bin
  need pngcheck pngcheck
  for i in 1 2; do
    file=$(ls all/setup-$i-section-z*.svg)
    rsvg-convert --dpi-x 254 --dpi-y 254 "$file" -o drawn.png || fail "$file"
    # True to scale: at 254 dots an inch ten a millimetre.
    size=$(pngcheck drawn.png | sed -n 's/.*(\([0-9]*\)x\([0-9]*\),.*/\1 \2/p')
    told=$(sed -n 's/.*width="\([0-9.]*\)mm" height="\([0-9.]*\)mm".*/\1 \2/p' "$file")
    echo "$size $told" | awk '{ exit !(($1 - 10 * $3) ^ 2 <= 1 && ($2 - 10 * $4) ^ 2 <= 1) }' || fail "$file: $size dots for $told mm"
    # The area that is filled is the area that is told, but for the outline's own dots.
    area=$(sed -n 's/.*Area \([0-9.]*\) mm2.*/\1/p' "$file")
    near "$("$debian_python" "$here/filled.py" drawn.png)" "$(awk -v a="$area" 'BEGIN { print 100 * a }')" 0.03 "area of $file"
  done
}

png() {
  need pngcheck pngcheck
  [ "$(ls pictures/*.png | wc -l)" -ge 4 ] || fail "there are no pictures"
  pngcheck -q pictures/*.png || fail "pngcheck"
  head -c 3000 "$(ls pictures/*.png | head -n 1)" >short.png
  ! pngcheck -q short.png >/dev/null || fail "pngcheck takes anything"
}

csv() {
  need sqlite3 sqlite3
  for run in all good faulty; do
    rm -f moves.db
    sqlite3 -csv moves.db ".import $run/moves.csv moves"
    sums=$(sqlite3 -separator ' ' moves.db "select sum(time_s), sum(removed_mm3), sum(case when kind = 'rapid' then length else 0 end), count(*) from moves")
    # shellcheck disable=SC2086
    set -- $sums
    tools="[t for s in r['setups'] for t in s['tools']]"
    near "$1" "$(figure $run/result.json "sum(t['feed_s'] + t['rapid_s'] for t in $tools)")" 1e-4 "$run: time"
    near "$2" "$(figure $run/result.json "r['totals']['removed_mm3']")" 1e-3 "$run: volume"
    near "$3" "$(figure $run/result.json "sum(t['rapid_mm'] for t in $tools)")" 1e-4 "$run: rapid length"
    near "$4" "$(figure $run/result.json "sum(t['moves'] for t in $tools)")" 0 "$run: moves"
  done
}

manual() {
  need mandoc mandoc
  "$proveout" manual >proveout.1
  mandoc -T lint proveout.1 >said || fail "$(cat said)"
  # Bold letters are struck twice: letter, backspace, letter.
  mandoc -T ascii proveout.1 | sed "s/.$(printf '\b')//g" | grep -q -- '--fail-on LEVEL' || fail "the page lacks an option"
}

zsh_reads() {
  need zsh zsh
  "$proveout" completion zsh >_proveout
  zsh -n _proveout || fail "zsh cannot read its script"
}

fish_reads() {
  need fish fish
  "$proveout" completion fish >proveout.fish
  fish -n proveout.fish || fail "fish cannot read its script"
  fish --no-config -c "source proveout.fish; complete -C 'proveout run --fail-on w'" | grep -q '^warning' || fail "--fail-on"
}

case $name in
  junit | stl | vtp | vdb | svg | png | csv | manual) "$name" ;;
  assimp | zsh | fish) "${name}_reads" ;;
  *) fail "no reader $name" ;;
esac
echo "$name: read"
