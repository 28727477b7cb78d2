#!/bin/sh
# resume.sh PROVEOUT COUNT: a folder of COUNT jobs, its check killed and taken up again.
set -eu
proveout=$1 count=$2
work=$(mktemp -d)
running=
end() {
  [ -z "$running" ] || kill -KILL "$running" 2>/dev/null || true
  rm -rf "$work"
}
trap end EXIT
fail() {
  echo "$*"
  exit 1
}
mkdir "$work/parts"
cd "$work"
for n in $(seq "$count"); do
  printf 'G21 G90\nT1 M6\nS9000 M3\nG0 X-5 Y7 Z5\nG0 Z-%d.%03d\nG1 X25 F500\nG0 Z5\nM30\n' $((1 + n % 5)) "$n" >"parts/p$n.nc"
  printf '[simulation]\nvoxel = 1\n[stock]\nsize = [20, 15, 10]\n[[tools]]\nnumber = 1\nshape = "flat"\ndiameter = 4\nflute_length = 12\nstickout = 20\n[[setups]]\nname = "A"\nprogram = "p%d.nc"\nzero = { x = "min", y = "min", z = "top" }\n' "$n" >"parts/p$n.toml"
done
options="check parts --no-html --fail-on none --accept -o out"
# shellcheck disable=SC2086
check() { "$proveout" $options "$@"; }
finished() { find out -name finished.json 2>/dev/null | wc -l; }
# The same without a process of its own, which would come too late.
third_done() {
  set -- out/*/finished.json
  [ $# -ge $((count / 3)) ] && [ -e "$1" ]
}
# A file written anew under its name is another one.
results() { find out -name result.json -exec stat -c '%n %i %Y' {} + | sort; }

echo "== $count jobs, killed when a third is done"
# One at a time, and once more where this shell was too slow to see it in time.
for try in 1 2 3 4 5 6; do
  rm -rf out
  # An earlier check's, which must not be gathered as this one's.
  mkdir out
  echo '{}' | tee out/junit.xml >out/summary.json
  # shellcheck disable=SC2086  # (not by way of the function: its process would be a shell's)
  "$proveout" $options --quiet --at-once 1 &
  running=$!
  until third_done || ! kill -0 "$running" 2>/dev/null; do :; done
  kill -KILL "$running" 2>/dev/null || true
  wait "$running" 2>/dev/null || true
  running=
  [ "$(finished)" -ge "$count" ] || break
  echo "(killed too late, try $try)"
done
[ ! -e out/summary.json ] && [ ! -e out/junit.xml ] || fail "a summary where the check did not end"
# Jobs that were under way have no parent any more and come to their end.
before=-1
while [ "$before" -ne "$(find out -type f | wc -l)" ]; do
  before=$(find out -type f | wc -l)
  sleep 1
done
done_before=$(finished)
[ "$done_before" -lt "$count" ] || fail "the check could not be killed in time"
find out -name finished.json | sed 's/finished.json$/result.json/' | sort >done.txt
results | grep -F -f done.txt >before.txt

echo "== taken up again: $done_before are done"
# shellcheck disable=SC2086
"$proveout" $options --resume >said.txt &
running=$!
memory=0
while kill -0 "$running" 2>/dev/null; do
  now=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\).*/\1/p' "/proc/$running/status" 2>/dev/null || true)
  [ "${now:-0}" -le "$memory" ] || memory=$now
  sleep 0.1
done
wait "$running" || fail "the check that was taken up ended with $?"
running=
grep -q "^$done_before of $count jobs were finished before" said.txt || fail "$(tail -n 5 said.txt)"
grep -q "^$count of $count jobs: as before" said.txt || fail "$(tail -n 5 said.txt)"
[ "$(finished)" -eq "$count" ] || fail "$(finished) of $count finished"
results | grep -F -f done.txt >after.txt
cmp before.txt after.txt || fail "jobs that were finished were run again"
[ "$(find parts -name '*.baseline.json' | wc -l)" -eq "$count" ] || fail "not every job has its baseline"
echo "largest memory of the process that starts the jobs: $((memory / 1024)) MB"
[ "$memory" -gt 0 ] && [ "$memory" -lt 131072 ] || fail "memory: $memory kB"

echo "== a program that changed since is run again, and no other"
echo '(a remark)' >>parts/p2.nc
check --resume >said.txt
grep -q "^$((count - 1)) of $count jobs were finished before" said.txt || fail "$(tail -n 5 said.txt)"
# So is one whose baseline did, and all where an option did.
echo ' ' >>parts/p3.baseline.json
check --resume >said.txt
grep -q "^$((count - 1)) of $count jobs were finished before" said.txt || fail "$(tail -n 5 said.txt)"
if [ "$count" -le 50 ]; then
  check --resume --time-share 0.5 >said.txt
  ! grep -q 'finished before' said.txt || fail "another tolerance, and jobs were taken over"
  check --quiet --resume
  cp out/summary.json resumed.json
  check --quiet
  cmp out/summary.json resumed.json || fail "the summary differs from that of a check at one go"
fi
echo "== done"
