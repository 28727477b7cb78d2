#!/bin/sh
# slurm_array.sh PROVEOUT: an array job of four shards over the door pull's jobs, on a job queue that
# runs on loopback only; the shards gathered must tell the same as one run of the whole folder.
# Needs Debian's slurm-wlm and munge, and root. SHARDS, VOXEL and PORT (the first of two) may be set.
set -eu
proveout=$(realpath "$1")
shards=${SHARDS:-4} voxel=${VOXEL:-0.8}
. "$(dirname "$0")/queue.sh"
queue_starts 1 "$(nproc)"

mkdir "$work/jobs"
cp -r "$source/fixtures/door-pull/." "$work/jobs"
cat >"$work/shard.sh" <<SHARD
#!/bin/sh
exec "$proveout" check "$work/jobs" --voxel $voxel --no-html --fail-on none --quiet --at-once 1 \\
  --shard "\$SLURM_ARRAY_TASK_ID/$shards" -o "$work/shard-\$SLURM_ARRAY_TASK_ID-out"
SHARD
# Without baselines each job is an error of its own; --accept makes them, as the first run on purpose does.
"$proveout" check "$work/jobs" --voxel "$voxel" --no-html --fail-on none --quiet --accept -o "$work/accepted-out"
"$proveout" check "$work/jobs" --voxel "$voxel" --no-html --fail-on none --quiet -o "$work/whole-out"
sbatch --quiet --wait --array="1-$shards" --chdir="$work" --output="$work/task-%a.log" "$work/shard.sh"
cat "$work"/task-*.log
"$proveout" gather "$work"/shard-*-out/summary.json
echo "tasks of the array job:"
ls -d "$work"/shard-*-out | wc -l
