#!/usr/bin/env bash
# slurm_test.sh PROGRAM SOURCE WORK: the script for Slurm in tools/batch/README.md, as it stands there, under a controller and a node
# of Slurm's own on this machine. WORK is on a short path (a socket lies in it). Needs root and Debian's slurmctld, slurmd,
# slurm-client and munge; run by tools/package-test slurm, since a machine's own Slurm is not to be disturbed.
set -euo pipefail
program=$(realpath "$1") source=$(realpath "$2") work=$3
parts=16 recordings=40
rm -rf "$work" && mkdir -p "$work"/{state,spool,runs} && chmod 755 "$work" && cd "$work"
PATH=$(dirname "$program"):$PATH
export PATH SLURM_CONF=$work/slurm.conf

fail() { echo "$*" >&2; tail -n 20 "$work"/*.log >&2; exit 1; }
wait_for() {  # WHAT SECONDS COMMAND…
  local what=$1 end=$((SECONDS + $2))
  shift 2
  until "$@" >/dev/null 2>&1; do
    [ $SECONDS -lt $end ] || fail "waited in vain for $what"
    sleep 0.5
  done
}

# A node that says it has 16 processors, as many as two parts of the script ask for.
cat >slurm.conf <<CONF
ClusterName=shop
SlurmctldHost=$(hostname)(127.0.0.1)
SlurmctldPort=16817
SlurmdPort=16818
SlurmUser=root
AuthInfo=socket=$work/munge.socket,cred_expire=5
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmdParameters=config_overrides
ReturnToService=2
NodeName=$(hostname) NodeAddr=127.0.0.1 CPUs=16
PartitionName=all Nodes=ALL Default=YES
CONF
echo "CgroupPlugin=cgroup/v1" >cgroup.conf
dd if=/dev/urandom of=munge.key bs=1024 count=1 status=none && chmod 400 munge.key

daemons=()
trap 'kill "${daemons[@]}" 2>/dev/null || true; wait' EXIT
start() { "$@" >>"$work/$(basename "$1").said.log" 2>&1 & daemons+=($!); }
start munged --foreground --force --socket "$work/munge.socket" --key-file "$work/munge.key" --pid-file "$work/munged.pid" \
  --seed-file "$work/munge.seed" --log-file "$work/munged.log"
wait_for "munge's socket" 20 test -S munge.socket
start slurmctld -D -i
start slurmd -D
wait_for "the node" 60 sh -c 'sinfo --noheader --format %t | grep -qx idle'

for number in $(seq $recordings); do ln -s "$source/data/00-as-found.flac" "runs/spin-$number.flac"; done
cp "$source/data/rig.toml" .
sed -n '/^#!\/bin\/sh$/,/^```$/p' "$source/tools/batch/README.md" | grep -v '^```$' >array.sh
grep -q '^#SBATCH --array=1-16' array.sh || fail "the page has no script for Slurm"
job=$(sbatch --parsable array.sh)
wait_for "part 1" 60 grep -q . tracks-1.jsonl
# What Slurm does itself with a part whose node is lost, though two minutes later; one that is done starts again as well.
scontrol requeue "${job}_1" && scontrol update "JobId=${job}_1" StartTime=now
wait_for "the array's end" 300 sh -c "! squeue --noheader --array | grep -q ."

cat tracks-*.jsonl >all.jsonl
[ "$(wc -l <all.jsonl)" = $recordings ] || fail "$(wc -l <all.jsonl) results of $recordings recordings"
python3 - <<'PYTHON' || fail "the results are not those of the recordings"
import json
results = [json.loads(line) for line in open("all.jsonl", encoding="utf-8")]
assert len({each["file"] for each in results}) == len(results), "a recording was done twice"
assert all("error" not in each for each in results), results[0]
speeds = {each["speed_rpm"] for each in results}
assert len(speeds) == 1 and 500 < speeds.pop() < 5000, speeds
PYTHON
[ "$(ls tracks-*.jsonl | wc -l)" = $parts ] || fail "some parts left nothing"
echo "Slurm $(sinfo --version | cut -d' ' -f2): $parts parts, $recordings recordings, each done once, one part queued again"
