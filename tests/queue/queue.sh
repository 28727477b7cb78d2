# Sourced: a job queue of Debian (slurm-wlm, munge) on this machine's loopback. Its nodes are called part-1, part-2, ...; each has processes of its
# own, seen by no other (a PID namespace), so that node_dies takes with it all that ran there, as the end of a machine does.
# Needs root (the queue's daemons change user, and namespaces). PORT, the first of as many as there are nodes and one more, may be set.
source=$(cd "$(dirname "$0")/../.." && pwd)
PATH=$PATH:/usr/sbin
work=$(mktemp -d)
chmod 755 "$work"
queue_ends() {
  for node in "$work"/part-*.pid; do
    [ ! -s "$node" ] || kill -KILL "$(cat "$node")" 2>/dev/null || true
  done
  for daemon in slurmctld munge/munged; do
    if [ -s "$work/$daemon.pid" ]; then kill "$(cat "$work/$daemon.pid")" || true; fi
  done
  sleep 1
  rm -rf "$work"
}
trap queue_ends EXIT

# queue_starts NODES PROCESSORS: so many nodes, as many processors on each. A node that does not answer for ten seconds counts as lost.
queue_starts() {
  port=${PORT:-26817}
  mkdir "$work/munge" "$work/state"
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
SlurmdParameters=config_overrides
SlurmdTimeout=10
ReturnToService=0
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool-%n
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd-%n.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd-%n.log
PartitionName=parts Nodes=ALL Default=YES MaxTime=INFINITE State=UP
CONF
  for n in $(seq "$1"); do
    echo "NodeName=part-$n NodeHostname=$host NodeAddr=127.0.0.1 Port=$((port + n)) CPUs=$2 State=UNKNOWN" >>"$work/slurm.conf"
  done
  export SLURM_CONF="$work/slurm.conf"
  slurmctld -f "$SLURM_CONF"
  for n in $(seq "$1"); do
    # In the foreground, as the first process of its namespace: --kill-child ends it with unshare, and the kernel all others with it.
    unshare --pid --fork --kill-child --mount-proc slurmd -D -N "part-$n" -f "$SLURM_CONF" >/dev/null 2>&1 &
    echo $! >"$work/part-$n.pid"
  done
  for _ in $(seq 60); do
    if [ "$(sinfo -h -N -o '%N %T' 2>/dev/null | grep -c idle)" -eq "$1" ]; then return 0; fi
    sleep 1
  done
  sinfo -N
  tail -n 5 "$work"/slurm*.log
  return 1
}

# node_dies NAME: without a word, with all that runs on it.
node_dies() { kill -KILL "$(cat "$work/$1.pid")"; }
