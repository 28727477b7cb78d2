#!/bin/sh
# node_lost.sh PROVEOUT: the array job of docs/tutorial-in-ci.md, a shard a job, on a queue of two nodes; one of them dies while it works. The
# queue gives its shards to the other: each job ends with a result, none stands twice in the gathered summary, which is that of a check of the
# whole folder at one go; and gathered too early, with a shard missing, it is refused.
# Needs Debian's slurm-wlm and munge, and root. JOBS (200) and PORT (the first of three) may be set.
set -eu
proveout=$(realpath "$1")
jobs=${JOBS:-200}
. "$(dirname "$0")/queue.sh"
fail() {
  echo "$*"
  exit 1
}
mkdir "$work/shop" "$work/shop/parts"
cd "$work/shop"
for n in $(seq "$jobs"); do
  printf 'G21 G90\nT1 M6\nS9000 M3\nG0 X-5 Y7 Z5\nG0 Z-%d.%03d\nG1 X25 F500\nG0 Z5\nM30\n' $((1 + n % 5)) "$n" >"parts/p$n.nc"
  printf '[stock]\nsize = [20, 15, 10]\n[[tools]]\nnumber = 1\nshape = "flat"\ndiameter = 4\nflute_length = 12\nstickout = 20\n[[setups]]\nname = "A"\nprogram = "p%d.nc"\nzero = { x = "min", y = "min", z = "top" }\n' "$n" >"parts/p$n.toml"
done
PATH=$(dirname "$proveout"):$PATH
options="--voxel 1 --no-html --fail-on none --quiet"
# shellcheck disable=SC2086
proveout check parts $options --accept -o accepted-out
# Two that moved: what is gathered must say so, wherever they ran.
for n in 3 $((jobs - 1)); do sed -i 's/X25/X12/' "parts/p$n.nc"; done
# shellcheck disable=SC2086
proveout check parts $options -o whole-out && fail "nothing moved" || [ $? -eq 1 ]

queue_starts 2 1
echo "== $jobs shards on two nodes"
# The wait stands for jobs that take longer than these: something is under way where the node dies.
# shellcheck disable=SC2016  # (the task's own variables)
started=$(sbatch --parsable --requeue --array="1-$jobs" --output="$work/task-%a.log" --open-mode=append --wrap \
  "echo task \$SLURM_ARRAY_TASK_ID on \$SLURMD_NODENAME; sleep 1; proveout check parts $options --at-once 1 --resume --shard \$SLURM_ARRAY_TASK_ID/$jobs -o shard-\$SLURM_ARRAY_TASK_ID-out")
ended() { find "$work/shop" -path '*/shard-*-out/summary.json' | wc -l; }
under_way() {
  for log in $(grep -l 'on part-2$' "$work"/task-*.log); do
    task=${log##*/task-}
    [ -e "shard-${task%.log}-out/summary.json" ] || return 0
  done
  return 1
}
until [ "$(ended)" -ge $((jobs / 4)) ]; do sleep 1; done
# At a moment when a shard is under way there.
until under_way; do sleep 0.1; done
node_dies part-2
echo "== part-2 dies: $(ended) of $jobs shards have ended, $(squeue -h -t R -w part-2 | wc -l) run there"
! proveout gather shard-*-out/summary.json >said.txt 2>&1 || fail "gathered with shards missing: $(tail -n 3 said.txt)"
cat said.txt
while squeue -h -j "$started" 2>/dev/null | grep -q .; do sleep 2; done
sinfo -h -N -o '%N %T'
sinfo -h -n part-2 -o %T | grep -q down || fail "the queue never lost part-2"
echo "shards by node that they were started on:"
cat "$work"/task-*.log | sed -n 's/^task [0-9]* on //p' | sort | uniq -c
again=$(cat "$work"/task-*.log | sed -n 's/^task \([0-9]*\) on .*/\1/p' | sort | uniq -d)
[ -n "$again" ] || fail "no shard was given to another node: the death came too early or too late"
echo "started on both: $(echo "$again" | tr '\n' ' ')"
[ "$(ended)" -eq "$jobs" ] || fail "$(ended) of $jobs shards ended"
status=0
proveout gather shard-*-out/summary.json -o gathered-out >said.txt 2>&1 || status=$?
tail -n 4 said.txt
[ "$status" -eq 1 ] || fail "gathered: exit status $status"
[ "$(find . -path '*/shard-*-out/*' -name result.json | wc -l)" -eq "$jobs" ] || fail "not every job has one result"
# Each job once, and the whole the same bytes as at one go.
/usr/bin/python3 - "$jobs" gathered-out/summary.json whole-out/summary.json <<'PY'
import json, sys
gathered, whole = (json.load(open(name)) for name in sys.argv[2:])
names = [job["job"] for job in gathered["jobs"]]
assert len(names) == int(sys.argv[1]) == len(set(names)), (len(names), len(set(names)))
assert sorted(names) == sorted(job["job"] for job in whole["jobs"])
moved = [job["job"] for job in gathered["jobs"] if job["status"] != 0]
assert len(moved) == 2, moved
print(len(names), "jobs, each once; moved:", *moved)
PY
cmp gathered-out/summary.json whole-out/summary.json
echo "== done"
