#!/bin/sh
# On demand, as root: the Debian package, built in a clean root and installed, run, upgraded, removed, purged in another.
#   tests/bench/deb_in_clean_root.sh [FOLDER]         about 10 minutes, 1.5 GB in FOLDER (default: a new one under /tmp)
# Needs debootstrap, lintian, mosquitto and the package indexes of Debian and Python.
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
work=${1:-$(mktemp -d)}
mkdir -p "$work"
work=$(cd "$work" && pwd)
suite=bookworm
say() { printf '%s\n' "deb: $*"; }
die() { say "FAILED: $*"; exit 1; }
[ -x "$work/base/usr/bin/apt-get" ] ||
  debootstrap --variant=minbase --include=ca-certificates $suite "$work/base" > "$work/debootstrap.log" 2>&1
# What this machine needs to reach its package indexes is lent to the roots, not written into the package.
lend() {
  for file in /etc/pip.conf /etc/ssl/certs/ca-certificates.crt /etc/resolv.conf /etc/hosts; do
    [ ! -e $file ] || cp -L $file "$1$file"
  done
}
inside() { # root, then the command
  root=$1
  shift
  unshare --mount --propagation private sh -c '
    root=$1; shift
    mount -t proc proc "$root/proc"
    mount --bind /dev "$root/dev"
    exec chroot "$root" env -u PIP_FIND_LINKS DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8 "$@"' - "$root" "$@"
}

# ------------------------------------------------------------------------------------------------------------ built
begun=$(date +%s)
if [ ! -x "$work/builder/usr/bin/dpkg-buildpackage" ]; then
  cp -a "$work/base" "$work/builder"
  lend "$work/builder"
  inside "$work/builder" apt-get update -qq > "$work/apt.log" 2>&1
  inside "$work/builder" apt-get install -y -qq --no-install-recommends build-essential debhelper dh-virtualenv \
    help2man python3-venv >> "$work/apt.log" 2>&1
fi
rm -rf "$work/builder/source" "$work/builder/out"
mkdir -p "$work/builder/source" "$work/builder/out"
for part in bridge rules sample_messages docker pyproject.toml README.md DEVELOPERS.md LICENSE; do
  cp -a "$top/$part" "$work/builder/source/"
done
inside "$work/builder" sh /source/docker/make-deb /out > "$work/build.log" 2>&1 || { tail -n 20 "$work/build.log"; die build; }
deb=$(ls "$work"/builder/out/*.deb)
say "1. built in a clean $suite: $(basename "$deb"), $(du -k "$deb" | cut -f 1) kB, $(($(date +%s) - begun)) s"
lintian --suppress-tags-from-file /dev/null "$deb" > "$work/lintian.log" 2>&1 || true
say "   lintian: $(grep -c '^E:' "$work/lintian.log" || true) errors, $(grep -c '^W:' "$work/lintian.log" || true) warnings"
if dpkg-deb --fsys-tarfile "$deb" | tar -xO 2> /dev/null | grep -aqF "$work/builder"; then die "a build path is inside"; fi

# -------------------------------------------------------------------------------------------------------- installed
rm -rf "$work/host"
cp -a "$work/base" "$work/host"
lend "$work/host"
find "$work/host" -xdev | LC_ALL=C sort > "$work/before"
cp "$deb" "$work/host/tmp/revival.deb"
inside "$work/host" apt-get update -qq > "$work/install.log" 2>&1
inside "$work/host" apt-get install -y -qq --no-install-recommends /tmp/revival.deb >> "$work/install.log" 2>&1 ||
  { tail -n 20 "$work/install.log"; die install; }
grep '^revival-bridge: next' "$work/install.log" > /dev/null || die "nobody is told what comes next"
inside "$work/host" revival --version > "$work/version" || die "the program does not run"
[ "$(stat -c '%U:%G %a' "$work/host/etc/revival/secrets" | cut -d: -f1)" = root ] || die "owner of secrets"
rights=$(inside "$work/host" stat -c '%U:%G:%a' /etc/revival /etc/revival/secrets /var/lib/revival | tr '\n' ' ')
[ "$rights" = "root:revival:750 root:revival:750 revival:revival:750 " ] || die "rights: $rights"
unit="$work/host/lib/systemd/system/revival-bridge.service"
grep -qx "User=revival" "$unit" || die "user of the unit"
mkdir -p "$work/unit"
sed 's#^ExecStart=/usr/bin/revival#ExecStart=/bin/true#' "$unit" > "$work/unit/revival-bridge.service"
systemd-analyze verify "$work/unit/revival-bridge.service" || die "the unit"
say "2. installed: $(cat "$work/version"); user and folders $rights; the unit is valid"

# --------------------------------------------------------------------------------------------------------------- run
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
printf 'listener %s 127.0.0.1\nallow_anonymous true\n' "$port" > "$work/mosquitto.conf"
PATH=$PATH:/usr/sbin mosquitto -c "$work/mosquitto.conf" 2> "$work/mosquitto.log" &
broker=$!
trap 'kill $broker 2> /dev/null || true' EXIT
sed -e "s/^host = .*/host = \"127.0.0.1\"/" -e "s/^port = .*/port = $port/" -e '/^username/d' -e '/^password_file/d' \
  -e '/^\[influxdb\]/,$d' -e '/^\[page\]/,/^$/d' -e 's#^path = .*#path = "revival.db"#' "$top/docker/cabin.toml" \
  > "$work/host/etc/revival/cabin.toml"
inside "$work/host" chgrp -R revival /etc/revival
# As the unit runs it: its user, its group, and it finds the cabin file by itself.
inside "$work/host" setpriv --reuid revival --regid revival --clear-groups --no-new-privs sh -c \
  'cd /var/lib/revival && exec revival run --config /etc/revival/cabin.toml' > "$work/run.log" 2>&1 &
bridge=$!
tries=0
until inside "$work/host" revival status > "$work/status" 2>&1; [ $? -ne 4 ]; do
  tries=$((tries + 1))
  [ $tries -lt 60 ] || { tail -n 20 "$work/run.log"; die "nobody answers"; }
  sleep 1
done
mosquitto_pub -h 127.0.0.1 -p "$port" -q 1 -t cabin/shunt -m "{\"dc\": {\"mv\": 25310, \"a\": 12.5}, \"t\": $(date +%s)}"
seen=$(mosquitto_sub -h 127.0.0.1 -p "$port" -C 1 -W 30 -t homie/5/tarn-hut-north/electrical/voltage || true)
[ "$seen" = 25.31 ] || die "the voltage on the bus: ${seen:-none}"
# ------------------------------------------------------------------------------------------------- upgraded, removed
inside "$work/host" apt-get install -y -qq --reinstall /tmp/revival.deb >> "$work/install.log" 2>&1 || die upgrade
kill -TERM "$(pgrep -P $bridge)" # as the service manager does before the package goes
wait $bridge || die "ended with $?"
kept="$work/host/etc/revival/cabin.toml $work/host/var/lib/revival/revival.db"
# shellcheck disable=SC2086
ls $kept > /dev/null || die "the upgrade lost something"
say "3. ran as user revival on /etc/revival/cabin.toml: $seen V on the bus; reinstalled over it, file and journal stay"
inside "$work/host" apt-get remove -y -qq revival-bridge >> "$work/install.log" 2>&1
# shellcheck disable=SC2086
ls $kept > /dev/null || die "removing takes what is the owner's"
[ ! -e "$work/host/usr/bin/revival" ] && [ ! -e "$work/host/usr/lib/revival-bridge" ] || die "the program is still there"
inside "$work/host" apt-get purge -y -qq revival-bridge >> "$work/install.log" 2>&1
find "$work/host" -xdev | LC_ALL=C sort > "$work/after"
left=$(comm -13 "$work/before" "$work/after" | grep -i revival | grep -v '/tmp/revival.deb' || true)
[ -z "$left" ] || die "purge leaves: $left"
grep -q '^revival:' "$work/host/etc/passwd" && die "purge leaves the user"
say "4. removed: file and journal stay; purged: no file with its name and no user are left"
say "all good; nothing of it is needed any more: $work"
