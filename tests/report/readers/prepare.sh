#!/bin/sh
# prepare.sh PROVEOUT SOURCE FOLDER: files of every kind, and results of every kind, for readers.sh.
set -eu
proveout=$1 source=$2 folder=$3
rm -rf "$folder"
mkdir -p "$folder"
cd "$folder"
cp -r "$source/tests/report/page/job" job
cat >>job/part.toml <<'TOML'

[quote]
batch = [1, 5]
blank_cost = 9.0
machine_rate_per_h = 12.0
labour_rate_per_h = 30.0
setup_min = 45
TOML
common="--voxel 0.5 --no-html --quiet --fail-on none"
# shellcheck disable=SC2086
{
  "$proveout" run job/part.toml $common --meshes --paths --stock-files --section -1 -o all
  "$proveout" run job/block.toml $common --pictures -o pictures
  "$proveout" quote job/part.toml $common -o quote
  "$proveout" retime job/part.toml --material 7075-T6 $common -o retime
  "$proveout" check job/part.toml $common --baseline kept.json --accept -o check
}
"$proveout" reach job/part.toml --step 1 --quiet -o reach
# The demo: a fault of every kind, none, and the proof in another material. Voxels are coarse: it is the form that is asked.
for demo in faulty good mdf; do
  "$proveout" run "$source/fixtures/door-pull/$demo.toml" --voxel 2 --no-html --quiet --fail-on none -o "$demo"
done
