#!/bin/sh
# On demand, as root: `compose up` of the shipped compose.yaml, broker and bridge, by a real compose program.
#   tests/bench/compose_up.sh FOLDER      FOLDER as tests/bench/clean_root.sh leaves it: base and image; about 2 minutes
# Needs podman with its network helper (netavark, which needs iptables and does not bring it), runc, podman-compose
# ($COMPOSE), mosquitto's clients. No registry is asked: the image is the one that clean_root.sh built, the broker is
# Debian's under the published name. The add-on of a hub is put together, built and run on the same base, without a cabin
# file.
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
work=$(cd "$1" && pwd)
compose=${COMPOSE:-podman-compose}
say() { printf '%s\n' "compose: $*"; }
die() { say "FAILED: $*"; exit 1; }
for program in buildah podman runc iptables "$compose" mosquitto_pub curl; do
  command -v "$program" > /dev/null || { echo "install $program first" >&2; exit 2; }
done
# One store of images for all three programs.
printf '[storage]\ndriver = "vfs"\ngraphroot = "%s/images"\nrunroot = "%s/images-run"\n' "$work" "$work" \
  > "$work/storage.conf"
# runc, since crun refuses a machine with both kinds of control groups; limits that need no right to be raised.
printf '[containers]\ndefault_ulimits = ["nofile=1024:1024", "nproc=1024:1024"]\n[engine]\nruntime = "runc"\n' \
  > "$work/containers.conf"
export CONTAINERS_STORAGE_CONF="$work/storage.conf" CONTAINERS_CONF="$work/containers.conf" BUILDAH_ISOLATION=chroot
lent=""
for file in /etc/pip.conf /etc/ssl/certs/ca-certificates.crt; do
  [ -e $file ] && lent="$lent --volume $file:$file:ro"
done
build() { # tag, folder, file
  # shellcheck disable=SC2086
  buildah build --network host --format docker --pull-never $lent --build-arg BASE=localhost/clean-root \
    --file "$3" --tag "$1" "$2" > "$work/build-more.log" 2>&1 || { tail -n 20 "$work/build-more.log"; die "$1"; }
}

# ------------------------------------------------------------------------------------------------------------ add-on
rm -rf "$work/add-on"
PYTHON=${PYTHON:-python3} sh "$top/docker/hub/make-add-on" "$work/add-on" > /dev/null 2>&1
sed 's#^FROM debian:bookworm-slim#FROM localhost/clean-root#' "$work/add-on/Dockerfile" > "$work/add-on.Dockerfile"
build localhost/add-on "$work/add-on" "$work/add-on.Dockerfile"
mkdir -p "$work/add-on-config"
rm -f "$work/add-on-config"/*
said=$(podman run --rm --network none --volume "$work/add-on-config:/config" localhost/add-on 2>&1) && code=0 || code=$?
[ $code -eq 1 ] && [ -s "$work/add-on-config/cabin.toml.example" ] || die "the add-on: $code $said"
say "1. add-on built and run: without a cabin file it leaves an example and ends with $code"

# ---------------------------------------------------------------------------------------------------------------- up
mkdir -p "$work/broker-image"
printf '%s\n' 'FROM localhost/clean-root' \
  'RUN apt-get update && apt-get install -y --no-install-recommends mosquitto mosquitto-clients' \
  > "$work/broker-image/Dockerfile"
build docker.io/library/eclipse-mosquitto:2.0 "$work/broker-image" "$work/broker-image/Dockerfile"
buildah tag docker.io/library/eclipse-mosquitto:2.0 docker.io/eclipse-mosquitto:2.0
rm -rf "$work/cabin-folder"
cp -R "$top/docker" "$work/cabin-folder"
cd "$work/cabin-folder"
rm -rf secrets
./make-secrets > /dev/null
trap '"$compose" down --volumes > "$work/down.log" 2>&1 || true' EXIT
"$compose" up --detach --no-build broker bridge > "$work/up.log" 2>&1 || { tail -n 20 "$work/up.log"; die up; }
bridge=$(podman ps --format '{{.Names}}' | grep bridge) || { cat "$work/up.log"; podman ps -a; die "no bridge runs"; }
# Stands in for the service `tokens`, which no database here runs for: until then the bridge is started again and again.
tries=0
until podman logs "$bridge" 2>&1 | grep -q 'token_file = "/run/token/token": cannot be read'; do
  tries=$((tries + 1))
  [ $tries -lt 60 ] || { podman logs "$bridge" 2>&1 | tail -n 20; die "a bridge without its token does not say so"; }
  sleep 1
done
token=$(podman volume inspect --format '{{.Mountpoint}}' tarn-hut_token_bridge)/token
echo not-a-token > "$token"
chmod 0644 "$token"
tries=0
until podman exec "$bridge" revival status --config /etc/revival/cabin.toml > "$work/status" 2>&1; do
  tries=$((tries + 1))
  [ $tries -lt 60 ] || { cat "$work/status"; podman logs "$bridge" 2>&1 | tail -n 20; die "status never ends with 0"; }
  sleep 1
done
say "2. up: status ends with 0 after $tries tries: $(head -n 1 "$work/status")"
mosquitto_pub -h 127.0.0.1 -p 1883 -u shunt -P "$(cat secrets/broker/shunt)" -q 1 -t cabin/shunt \
  -m "{\"dc\": {\"mv\": 25310, \"a\": 12.5}, \"t\": $(date +%s)}"
seen=$(mosquitto_sub -h 127.0.0.1 -p 1883 -u viewer -P "$(cat secrets/broker/viewer)" -C 1 -W 30 \
  -t homie/5/tarn-hut-north/electrical/voltage || true)
[ "$seen" = 25.31 ] || die "the voltage on the bus: ${seen:-none}"
! mosquitto_pub -h 127.0.0.1 -p 1883 -t cabin/shunt -m 1 2> /dev/null || die "the broker takes anybody"
page=$(curl --silent --output /dev/null --write-out '%{http_code}' http://127.0.0.1:8170/ || true)
[ "$page" = 200 ] || die "the page answers $page"
! podman exec "$bridge" sh -c 'echo x > /opt/revival/x' 2> /dev/null || die "the root can be written"
rights=$(podman exec "$bridge" sh -c 'id -u; grep -E "^(CapEff|CapBnd|NoNewPrivs)" /proc/1/status' | tr '\n\t' '  ')
[ "$rights" = "10001 CapEff: 0000000000000000 CapBnd: 0000000000000000 NoNewPrivs: 1 " ] || die "rights: $rights"
grep -qi database "$work/status" || die "status does not tell of the database that is not there"
check=$(sed -n 's#^  CMD \["/bin/sh", "-c", "\(.*\)"\]$#\1#p' "$top/docker/Dockerfile")
podman exec "$bridge" /bin/sh -c "$check" || die "the health check's command"
say "3. 25.31 V on the bus, page $page, no login refused, health command ends with 0; $rights"
if podman logs "$bridge" 2>&1 | grep -F -e "$(cat secrets/broker/revival)" -e "$(cat secrets/page_token)"; then
  die "a secret stands in the log"
fi
"$compose" down > "$work/down.log" 2>&1 || { tail -n 20 "$work/down.log"; die down; }
[ -z "$(podman ps --quiet)" ] || die "something still runs"
say "4. down: nothing runs; all good"
