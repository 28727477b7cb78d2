#!/bin/sh
# slurm_array.sh PROVEOUT: an array job of four shards over the door pull's jobs, on a job queue that
# runs on loopback only; the shards gathered must tell the same as one run of the whole folder.
# Needs Debian's slurm-wlm and munge, and root (the queue's daemons change user). SHARDS, VOXEL and
# PORT (the first of two) may be set.
set -eu
proveout=$(realpath "$1")
shards=${SHARDS:-4} voxel=${VOXEL:-0.8} port=${PORT:-26817}
source=$(cd "$(dirname "$0")/../.." && pwd)
PATH=$PATH:/usr/sbin
work=$(mktemp -d)
chmod 755 "$work"
finish() {
  for daemon in slurmd slurmctld munge/munged; do
    if [ -s "$work/$daemon.pid" ]; then kill "$(cat "$work/$daemon.pid")" || true; fi
  done
  sleep 1
  rm -rf "$work"
}
trap finish EXIT

mkdir "$work/munge" "$work/state" "$work/spool" "$work/jobs"
(umask 077 && head -c 1024 /dev/urandom >"$work/munge/key")
chown -R munge: "$work/munge"
setpriv --reuid=munge --regid=munge --clear-groups munged --num-threads=1 --key-file="$work/munge/key" \
  --socket="$work/munge/socket" --pid-file="$work/munge/munged.pid" --log-file="$work/munge/log" \
  --seed-file="$work/munge/seed"
host=$(hostname -s)
cat >"$work/slurm.conf" <<CONF
ClusterName=loopback
SlurmctldHost=$host(127.0.0.1)
SlurmctldPort=$port
SlurmdPort=$((port + 1))
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=$work/munge/socket
MpiDefault=none
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
ReturnToService=2
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=parts Nodes=ALL Default=YES MaxTime=INFINITE State=UP
CONF
export SLURM_CONF="$work/slurm.conf"
slurmctld -f "$SLURM_CONF"
slurmd -f "$SLURM_CONF"
for _ in $(seq 60); do
  if sinfo -h -o %T 2>/dev/null | grep -q idle; then break; fi
  sleep 1
done

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
