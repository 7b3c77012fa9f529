#!/bin/sh
# The recipes of docs/many-machines.md, run as they stand: many_machines.sh HAIRLINE RECIPE. A thousand small jobs in four shares
# give the same queue.json as one run. Prints "skipped:" and ends with 77 where what it takes is missing or does not start.
set -eu

hairline=$1 recipe=$2
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
source_dir=$here/../..
room=$(mktemp -d)
PATH=$(dirname -- "$hairline"):/usr/sbin:/sbin:$PATH
export PATH XDG_CACHE_HOME="$room/cache" XDG_STATE_HOME="$room/state" XDG_CONFIG_HOME="$room/config" TZ=UTC

stop_all() {
    for pid in "$room"/*.pid; do
        [ -e "$pid" ] && kill "$(cat "$pid")" 2>/dev/null || true
    done
}
clean_up() {
    stop_all
    for pause in 0 1 2 4; do # what is ending may still write there
        sleep "$pause"
        rm -rf "$room" 2>/dev/null && break
    done
    true
}
trap clean_up EXIT
skip() {
    echo "skipped: $*"
    exit 77
}
fail() {
    echo "failed: $*" >&2
    exit 1
}
need() {
    for tool in "$@"; do
        command -v "$tool" >/dev/null 2>&1 || skip "$tool is not installed"
    done
}

# Two logins to this machine: a server of ssh on the loopback address, with keys of its own.
start_parallel() {
    need parallel ssh sshd ssh-keygen
    [ "$(id -u)" -ne 0 ] || mkdir -p /run/sshd
    ssh-keygen -q -t ed25519 -N '' -f "$room/host_key" && ssh-keygen -q -t ed25519 -N '' -f "$room/key"
    cp "$room/key.pub" "$room/authorized_keys"
    port=$((20000 + $$ % 10000))
    cat >"$room/sshd_config" <<END
ListenAddress 127.0.0.1:$port
HostKey $room/host_key
AuthorizedKeysFile $room/authorized_keys
PidFile $room/sshd.pid
StrictModes no
UsePAM no
PermitRootLogin prohibit-password
PasswordAuthentication no
MaxStartups 50
END
    cat >"$room/ssh_config" <<END
Host bench-1 bench-2
  HostName 127.0.0.1
  Port $port
  IdentityFile $room/key
  IdentitiesOnly yes
  UserKnownHostsFile $room/known_hosts
  StrictHostKeyChecking accept-new
  LogLevel ERROR
END
    "$(command -v sshd)" -f "$room/sshd_config" -E "$room/sshd.log" || skip "sshd does not start: $(cat "$room/sshd.log")"
    sleep 1
    ssh -F "$room/ssh_config" bench-1 true || skip "no login over ssh to this machine: $(cat "$room/sshd.log")"
    # A login has a path and a state of its own, so the far end is told where the program is.
    mkdir "$room/far"
    printf '#!/bin/sh\nXDG_CACHE_HOME=%s XDG_STATE_HOME=%s TZ=UTC exec %s "$@"\n' \
        "$room/cache-far" "$room/state" "$hairline" >"$room/far/hairline"
    chmod +x "$room/far/hairline"
    mkdir -p "$room/home"
    export PARALLEL_SSH="ssh -F $room/ssh_config" PARALLEL_HOME="$room/home"
}

# A Slurm of one node.
start_slurm() {
    need munged slurmctld slurmd sbatch sinfo
    node=$(hostname -s)
    mkdir "$room/save" "$room/spool"
    head -c 1024 /dev/urandom >"$room/munge.key"
    chmod 400 "$room/munge.key"
    munged --force --key-file="$room/munge.key" --socket="$room/munge.sock" --pid-file="$room/munged.pid" \
        --log-file="$room/munged.log" --seed-file="$room/munge.seed" || skip "munged does not start"
    base=$((30000 + $$ % 10000))
    cat >"$room/slurm.conf" <<END
ClusterName=harbour
SlurmctldHost=$node(127.0.0.1)
AuthType=auth/munge
AuthInfo=socket=$room/munge.sock
CredType=cred/munge
SlurmUser=$(id -un)
SlurmdUser=$(id -un)
SlurmctldPort=$base
SlurmdPort=$((base + 1))
StateSaveLocation=$room/save
SlurmdSpoolDir=$room/spool
SlurmctldPidFile=$room/slurmctld.pid
SlurmdPidFile=$room/slurmd.pid
SlurmctldLogFile=$room/slurmctld.log
SlurmdLogFile=$room/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
ReturnToService=2
MpiDefault=none
NodeName=$node NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=bench Nodes=$node Default=YES MaxTime=INFINITE State=UP
END
    export SLURM_CONF="$room/slurm.conf"
    slurmctld -f "$SLURM_CONF" || skip "slurmctld does not start: $(tail -n 3 "$room/slurmctld.log")"
    slurmd -f "$SLURM_CONF" || skip "slurmd does not start: $(tail -n 3 "$room/slurmd.log")"
    for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
        sinfo -h -o %T 2>/dev/null | grep -q idle && return 0
        sleep 0.5
    done
    skip "the node of Slurm does not come up: $(tail -n 3 "$room/slurmd.log")"
}

mkdir "$room/bureau" "$room/bureau/tonight" "$room/bureau/records"
cd "$room/bureau"
python=/usr/bin/python3
[ -x "$python" ] || python=python3
"$python" "$here/small_jobs.py" tonight 1000
cp "$source_dir/formats/examples/resin-record/full.json" records/
start_"$recipe"

# The block below the recipe's mark, without its indent.
sed -n "/<!-- recipe: $recipe -->/,/^\$/p" "$source_dir/docs/many-machines.md" | sed -n 's/^    //p' >recipe.sh
grep -q 'queue merge' recipe.sh || fail "docs/many-machines.md has no recipe $recipe"
[ "$recipe" != parallel ] || sed -i "s|hairline queue tonight|$room/far/hairline queue tonight|" recipe.sh
status=0
sh recipe.sh >recipe.out 2>recipe.err || status=$?
[ "$status" -eq 2 ] || fail "status $status instead of 2 (ten jobs are cut off): $(cat recipe.err)"

status=0
hairline queue tonight --records records --no-cache --fail-on never --json one >one.out 2>one.err || status=$?
[ "$status" -eq 2 ] || fail "one run: status $status: $(cat one.err)"
cmp one/queue.json whole/queue.json || fail "the merged queue differs from that of one run"
tail -n "$(wc -l <one.out)" recipe.out | cmp - one.out || fail "the merged table differs from that of one run"
for report in one/picket-*.json; do
    cmp "$report" "whole/${report#one/}" || fail "$report differs"
done
[ "$(ls one | wc -l)" -eq 991 ] || fail "$(ls one | wc -l) files instead of 990 reports and queue.json"
echo "$recipe: 1000 jobs in four shares, merged as one run"
