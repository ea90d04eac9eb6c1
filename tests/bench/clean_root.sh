#!/bin/sh
# On demand, as root: the image and the installation without internet, tried where nothing is installed yet.
#   tests/bench/clean_root.sh [FOLDER]         about 3 minutes, 2 GB in FOLDER (default: a new one under /tmp)
# 1. A clean Debian root is made with debootstrap; it stands in for the base image, which no registry is asked for.
# 2. Every step of docker/Dockerfile is run on it by buildah (chroot isolation: no container engine is needed).
# 3. The image's files run as its own user on a read-only root against a real mosquitto with the shipped configuration:
#    healthy when the bridge runs, unhealthy when it does not, gone within the stop time.
# 4. A folder of wheels is made, and installed in a clean environment with no network at all.
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
work=${1:-$(mktemp -d)}
mkdir -p "$work"
suite=bookworm
for program in debootstrap buildah mosquitto mosquitto_pub unshare; do
  PATH=$PATH:/usr/sbin command -v $program > /dev/null || { echo "install $program first" >&2; exit 2; }
done
say() { printf '%s\n' "clean root: $*"; }
started() { date +%s; }

# ---------------------------------------------------------------------------------------------------- 1. clean root
clock=$(started)
[ -x "$work/base/usr/bin/apt-get" ] ||
  debootstrap --variant=minbase --include=ca-certificates $suite "$work/base" > "$work/debootstrap.log" 2>&1
say "1. debian $suite, $(du -sm "$work/base" | cut -f 1) MB, $(($(started) - clock)) s"

# -------------------------------------------------------------------------------------------------------- 2. image
clock=$(started)
images() { buildah --storage-driver vfs --root "$work/images" --runroot "$work/images-run" "$@"; }
export BUILDAH_ISOLATION=chroot
container=$(images from scratch)
images add -q "$container" "$work/base" / > /dev/null
images commit -q "$container" localhost/clean-root > /dev/null
images rm "$container" > /dev/null
# What this machine's own pip needs to reach its index is lent to the build, not written into the image.
lent=""
for file in /etc/pip.conf /etc/ssl/certs/ca-certificates.crt; do
  [ -e $file ] && lent="$lent --volume $file:$file:ro"
done
# shellcheck disable=SC2086
images build --network host --format docker --pull-never --build-arg BASE=localhost/clean-root $lent \
  --file "$top/docker/Dockerfile" --tag localhost/revival-bridge "$top" > "$work/build.log" 2>&1 ||
  { tail -n 30 "$work/build.log"; say "2. FAILED: the image does not build"; exit 1; }
container=$(images from --pull-never localhost/revival-bridge)
root=$(images mount "$container")
say "2. every step of the Dockerfile ran, $(grep -c STEP "$work/build.log") steps, $(($(started) - clock)) s; adds" \
  "$(($(du -sm "$root" | cut -f 1) - $(du -sm "$work/base" | cut -f 1))) MB to the base"

# ---------------------------------------------------------------------------------------------- 3. read-only, unprivileged
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
stage=$work/stage
rm -rf "$stage"
mkdir -p "$stage/broker" "$stage/state"
"$top/docker/make-secrets" --folder "$stage/secrets" > /dev/null
install -m 0600 "$top/docker/broker/acl" "$stage/broker/acl"
install -m 0600 "$stage/secrets/broker_passwords" "$stage/broker/passwords"
sed -e "s#^listener 1883#listener $port 127.0.0.1#" -e "s#/mosquitto/run/#$stage/broker/#" \
  -e "s#/mosquitto/data/#$stage/broker/#" "$top/docker/broker/mosquitto.conf" > "$stage/broker/mosquitto.conf"
printf "user root\nlog_type debug\n" >> "$stage/broker/mosquitto.conf"
PATH=$PATH:/usr/sbin mosquitto -c "$stage/broker/mosquitto.conf" 2> "$stage/broker/log" &
broker=$!
trap 'kill $broker 2> /dev/null || true; umount -l "$root/run" 2> /dev/null || true' EXIT
sed -e 's#"broker"#"127.0.0.1"#' -e "s#port = 1883#port = $port#" -e '/^\[influxdb\]/,$d' \
  "$top/docker/cabin.toml" > "$stage/cabin.toml"
chown 10001:10001 "$stage/state"
cat > "$stage/enter" <<'INSIDE'
#!/bin/sh
# Own mounts: the image's root read-only, and on it what compose.yaml mounts. $1 root, $2 stage, then the command.
set -eu
root=$1 stage=$2
shift 2
mkdir -p "$root/etc/revival" "$root/run/secrets"
touch "$root/etc/revival/cabin.toml" "$root/run/secrets/broker_revival"
mount --bind "$root" "$root"
mount --bind "$stage/cabin.toml" "$root/etc/revival/cabin.toml"
mount --bind "$stage/secrets/broker/revival" "$root/run/secrets/broker_revival"
mount --bind "$stage/state" "$root/var/lib/revival"
mount -t tmpfs -o size=16m tmpfs "$root/tmp"
mount -t proc proc "$root/proc"
mount -t tmpfs tmpfs "$root/dev" && mknod -m 666 "$root/dev/null" c 1 3 && mknod -m 666 "$root/dev/urandom" c 1 9
mount -o remount,bind,ro "$root"
# Changing the root takes a right that the program must not have: rights are dropped inside the new root.
exec env -i PATH=/opt/revival/bin:/usr/bin:/bin HOME=/var/lib/revival PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 \
  /usr/sbin/chroot "$root" setpriv --reuid 10001 --regid 10001 --clear-groups --no-new-privs --bounding-set=-all \
  --inh-caps=-all -- "$@"
INSIDE
inside="unshare --mount --propagation private sh $stage/enter $root $stage"
check=$(sed -n 's#^  CMD \["/bin/sh", "-c", "\(.*\)"\]$#\1#p' "$top/docker/Dockerfile")
health() { $inside /bin/sh -c "$check" > "$stage/health.log" 2>&1 && echo healthy || echo unhealthy; }

before=$(health)
[ "$before" = unhealthy ] || { say "3. FAILED: healthy although nothing runs"; exit 1; }
$inside revival run --config /etc/revival/cabin.toml > "$stage/bridge.log" 2>&1 &
outer=$!
tries=0
until [ "$(health)" = healthy ]; do
  tries=$((tries + 1))
  [ $tries -lt 30 ] || { tail -n 20 "$stage/bridge.log" "$stage/health.log"; say "3. FAILED: never healthy"; exit 1; }
  sleep 1
done
mosquitto_pub -h 127.0.0.1 -p "$port" -u shunt -P "$(cat "$stage/secrets/broker/shunt")" -q 1 -t cabin/shunt \
  -m "{\"dc\": {\"mv\": 25310, \"a\": 12.5}, \"t\": $(date +%s)}"
seen=$(mosquitto_sub -h 127.0.0.1 -p "$port" -u viewer -P "$(cat "$stage/secrets/broker/viewer")" -C 1 -W 20 \
  -t homie/5/tarn-hut-north/electrical/voltage || true)
kill -0 $outer
clock=$(started)
kill -TERM $outer
wait $outer && code=0 || code=$?
say "3. as user 10001 on a read-only root: healthy after $tries tries, voltage on the bus: ${seen:-none}," \
  "ended with $code in $(($(started) - clock)) s, then $(health)"
[ -n "$seen" ] && [ $code -eq 0 ] || exit 1
if grep -rqF "$(cat "$stage/secrets/broker/revival")" "$stage/bridge.log" "$stage/health.log" "$stage/state"; then
  say "3. FAILED: the password stands in a log or in the journal"
  exit 1
fi
if grep -i denied "$stage/broker/log"; then
  say "3. FAILED: the access list refuses something that the bridge does"
  exit 1
fi

# ---------------------------------------------------------------------------------------- 4. wheels without internet
clock=$(started)
rm -rf "$work/elsewhere" "$work/cabin" "$work/wheels"
python3 -m venv "$work/elsewhere"
"$work/elsewhere/bin/pip" wheel --quiet --wheel-dir "$work/wheels" "$top[page,demo]" 2> "$work/wheel.log"
python3 -m venv "$work/cabin"
env -u PIP_FIND_LINKS PIP_CONFIG_FILE=/dev/null unshare --net "$work/cabin/bin/pip" install --quiet --no-index \
  --find-links "$work/wheels" "revival-bridge[page,demo]"
unshare --net "$work/cabin/bin/revival" --help > /dev/null
say "4. $(find "$work/wheels" -name '*.whl' | wc -l) wheels, $(du -sm "$work/wheels" | cut -f 1) MB, installed without" \
  "network into $(du -sm "$work/cabin" | cut -f 1) MB, $(($(started) - clock)) s"
say "all good; nothing of it is needed any more: $work"
