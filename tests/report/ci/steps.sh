#!/bin/sh
# steps.sh PROVEOUT SOURCE: runs the shell steps of docs/ci in fresh folders.
set -eu
proveout=$1 source=$2
command -v git >/dev/null 2>&1 || {
  echo "SKIPPED: git is not installed; Debian's package git brings it"
  exit 77
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
  echo "$*"
  exit 1
}

# The program as if it were installed; apt-get only looks whether it is asked for a package that is there.
mkdir "$work/bin"
ln -s "$proveout" "$work/bin/proveout"
cat >"$work/bin/apt-get" <<'SH'
#!/bin/sh
case $1 in
  update) ;;
  install)
    shift
    for word in "$@"; do
      case $word in
        -*) ;;
        *) [ -f "$word" ] || { echo "apt-get: there is no $word"; exit 100; } ;;
      esac
    done ;;
  *) exit 100 ;;
esac
SH
chmod +x "$work/bin/apt-get"
PATH=$work/bin:$PATH
export GIT_CONFIG_GLOBAL=/dev/null GIT_CONFIG_NOSYSTEM=1
unset GIT_DIR GIT_INDEX_FILE GIT_WORK_TREE 2>/dev/null || true
git_here() { git -c user.name=shop -c user.email=shop@localhost "$@"; }

# The steps, a line each: of `run: |` blocks, and of before_script and script lists.
sed -n '/^ *run: |$/,/^ *- /{/^ *run: |$/d;/^ *- /d;s/^ *//p}' "$source/docs/ci/workflow.yml" >"$work/workflow.steps"
list_of() { # JOB KEY
  awk -v job="$1:" -v key="$2:" '
    /^[^ #]/ { in_job = $1 == job }
    in_job && /^  [a-z_]+:/ { in_key = $1 == key }
    in_job && in_key && /^    - / { sub(/^    - /, ""); print }' "$source/docs/ci/pipeline.yml"
}
[ "$(wc -l <"$work/workflow.steps")" -eq 3 ] || fail "steps of workflow.yml: $(cat "$work/workflow.steps")"
{ list_of .installed before_script && list_of prove script; } >"$work/prove.steps"
{ list_of .installed before_script && list_of gather script; } >"$work/gather.steps"
[ "$(wc -l <"$work/prove.steps")" -eq 3 ] || fail "steps of pipeline.yml: $(cat "$work/prove.steps")"
[ "$(wc -l <"$work/gather.steps")" -eq 3 ] || fail "steps of pipeline.yml: $(cat "$work/gather.steps")"

# A repository of two jobs with their baselines.
fresh() {
  rm -rf "$work/shop"
  mkdir -p "$work/shop/parts" "$work/shop/tools"
  : >"$work/shop/tools/proveout.deb"
  for job in one two; do
    printf 'name = "%s"\n[stock]\nsize = [20, 15, 10]\n[[tools]]\nnumber = 1\nshape = "flat"\ndiameter = 4\nflute_length = 12\nstickout = 20\n[[setups]]\nname = "A"\nprogram = "%s.nc"\nzero = { x = "min", y = "min", z = "top" }\n' $job $job >"$work/shop/parts/$job.toml"
    program $job -1
  done
  cd "$work/shop"
  proveout check parts --voxel 0.8 --no-html --quiet --accept -o accepted-out
  rm -rf accepted-out
}
program() { printf 'G21 G90\nT1 M6\nS9000 M3\nG0 X-5 Y7 Z5\nG0 Z%s\nG1 X25 F500\nG0 Z5\nM30\n' "$2" >"$work/shop/parts/$1.nc"; }
steps() { # FILE: as a runner does, with the first that fails ending it
  sh -e "$1" >"$work/said" 2>&1
}
# expect STATUS COMMAND...
expect() {
  wanted=$1
  shift
  status=0
  "$@" || status=$?
  [ "$status" -eq "$wanted" ] || fail "$*: exit status $status, not $wanted: $(cat "$work/said")"
}

fresh
expect 0 steps "$work/workflow.steps"
[ -s check-out/junit.xml ] || fail "workflow.yml: no check-out"
program two -2
expect 1 steps "$work/workflow.steps"
rm tools/proveout.deb
expect 100 steps "$work/workflow.steps"

fresh
export CI_NODE_TOTAL=2
for CI_NODE_INDEX in 1 2; do
  export CI_NODE_INDEX
  expect 0 steps "$work/prove.steps"
done
expect 0 steps "$work/gather.steps"
grep -q '2 of 2 jobs: as before' "$work/said" || fail "gather: $(cat "$work/said")"
program two -2
worst=0
for CI_NODE_INDEX in 1 2; do
  steps "$work/prove.steps" || worst=$?
done
[ "$worst" -eq 1 ] || fail "no shard told of the job that moved"
expect 1 steps "$work/gather.steps"

fresh
git init -q .
cp "$source/docs/ci/pre-commit" .git/hooks/pre-commit
commit() { git_here commit -q -m change >"$work/said" 2>&1; }
git_here add -A
expect 0 commit
program two -2
git_here add -A
expect 1 commit
grep -q 'two.toml' "$work/said" || fail "the hook does not name the job: $(cat "$work/said")"
# What lies about and is not added does not count.
git_here reset -q --hard
echo '(another remark)' >>parts/one.nc
git_here add parts/one.nc
program two -2
expect 0 commit
# Nothing under parts: nothing to hold, though what lies about moved.
echo remark >notes.txt
git_here add notes.txt
expect 0 commit
# Accepted on purpose, it goes through.
proveout check parts --voxel 0.8 --no-html --quiet --accept -o "$work/accepted-out"
git_here add -A
expect 0 commit

# The image's steps name scripts that are there. They are not run here: they install packages and build for most of an hour.
grep -q '^COPY \. ' "$source/docs/ci/Containerfile"
sed -n 's/^RUN sh \([^ ]*\).*/\1/p' "$source/docs/ci/Containerfile" | while read -r script; do
  [ -f "$source/$script" ] || fail "Containerfile: there is no $script"
done
echo "steps of docs/ci: run"
