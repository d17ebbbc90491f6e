#!/usr/bin/env bash
# Build and start docker-compose.yml for real, publish a SenML pack to its broker, find the reading through its API, back
# it up, stop everything in good order, find the reading again in a database restored from nothing, and remove it all.
# Needs a container engine; as root on Debian it installs and starts one for the time it takes. Where the base image
# cannot be pulled, the same Debian is made from packages under its name.
set -euo pipefail
cd "$(dirname "$0")/.."

base=debian:trixie-slim
work=$(mktemp -d)
export COMPOSE_PROJECT_NAME=wickwatch-test-$$
export COMPOSE_FILE=$PWD/docker-compose.yml
engine=
started=

say() { printf '%s  %s\n' "$(date +%T)" "$*"; }
fail() { printf 'compose-test: %s\n' "$*" >&2; exit 1; }

finish() {
    status=$?
    if [ -n "$started" ]; then
        [ $status -eq 0 ] || compose logs --tail 60 2>&1 | tail -n 250 >&2 || true
        compose --profile simulated down --volumes --remove-orphans > /dev/null 2>&1 || true
    fi
    [ -z "$engine" ] || { kill "$engine" 2> /dev/null && wait "$engine" 2> /dev/null; } || true
    rm -rf "$work" 2> /dev/null || true
    exit $status
}
trap finish EXIT

compose() { deploy/compose.sh "$@"; }

install() {
    [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null || fail "$1 is not installed; install it, or run this as root on Debian"
    say "installing $1"
    apt-get -qq -o DPkg::Lock::Timeout=300 update
    DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 install -y --no-install-recommends "$1" > /dev/null
}

ensure_engine() {
    if docker version > /dev/null 2>&1; then return; fi
    command -v dockerd > /dev/null || install docker.io
    [ "$(id -u)" = 0 ] || fail "no container engine answers; start one, or run this as root"
    say "starting a container engine"
    # Its data stays: the images are the slow part of the next run.
    dockerd --pidfile "$work/dockerd.pid" > "$work/dockerd.log" 2>&1 &
    engine=$!
    for _ in $(seq 60); do
        if docker version > /dev/null 2>&1; then return; fi
        kill -0 "$engine" 2> /dev/null || break
        sleep 0.5
    done
    tail -n 20 "$work/dockerd.log" >&2
    fail "the container engine does not start"
}

ensure_base() {
    if docker image inspect "$base" > /dev/null 2>&1 || docker pull -q "$base" > /dev/null 2>&1; then return; fi
    command -v mmdebstrap > /dev/null || install mmdebstrap
    say "$base cannot be pulled; making it from packages"
    mmdebstrap --quiet --mode=root --variant=apt --aptopt='APT::Install-Recommends "false"' \
        --dpkgopt='path-exclude=/usr/share/doc/*' --dpkgopt='path-exclude=/usr/share/man/*' \
        --dpkgopt='path-exclude=/usr/share/locale/*' trixie "$work/base"
    # A machine that reaches its registries through certificates of its own needs them in the build, too.
    change=()
    bundle=${PIP_CERT:-${SSL_CERT_FILE:-}}
    if [ -n "$bundle" ] && [ -f "$bundle" ]; then
        mkdir -p "$work/base/etc/ssl"  # a base this small may come without it
        cp "$bundle" "$work/base/etc/ssl/machine.pem"
        change=(--change "ENV PIP_CERT=/etc/ssl/machine.pem")
    fi
    tar -C "$work/base" -c . | docker import "${change[@]}" - "$base" > /dev/null
    rm -rf "$work/base"
}

until_ready() {
    say "waiting for the web service"
    for _ in $(seq 120); do
        if python3 -c "import urllib.request as r; r.urlopen('http://127.0.0.1:$web_port/readyz', timeout=2)" 2> /dev/null; then
            return
        fi
        sleep 1
    done
    fail "the web service is not ready after two minutes"
}
find_reading() {
    TOKEN=$token python3 deploy/compose-test-find.py "http://127.0.0.1:$web_port" "$device:tension" "$now" 123.5
}

ensure_engine
docker compose version > /dev/null 2>&1 || command -v docker-compose > /dev/null || install docker-compose
ensure_base

deploy/compose-env.sh "$work/env" > /dev/null
free_port() { python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'; }
broker_port=$(free_port) web_port=$(free_port)
printf '# one gateway\n\nbirchwood/gw-01:%s\n' "$(python3 -c 'import secrets; print(secrets.token_urlsafe(16))')" > "$work/gateways"
chmod 644 "$work/gateways"
printf '%s\n' "BROKER_PORT=127.0.0.1:$broker_port" "WEB_PORT=127.0.0.1:$web_port" "GATEWAYS_FILE=$work/gateways" >> "$work/env"
set -a
# What stands in the environment goes before a .env that may lie here.
# shellcheck source=/dev/null
. "$work/env"
set +a

say "building"
started=yes
compose build > "$work/build.log" 2>&1 || { tail -n 60 "$work/build.log" >&2; fail "the images do not build"; }
say "starting"
compose --profile simulated up -d > "$work/up.log" 2>&1 || { tail -n 40 "$work/up.log" >&2; fail "the services do not start"; }

until_ready
say "publishing a reading and looking for it"
token=$(compose run --rm --no-deps -T --entrypoint python3 web - < deploy/compose-test-token.py | tail -n 1 | tr -d '\r')
device=urn:dev:mac:0024befffe80c0de
now=$(date +%s)
pack="[{\"bn\":\"$device:\",\"bt\":$now,\"n\":\"tension\",\"u\":\"hPa\",\"v\":123.5}]"
# As the gateway itself, by the password in its file.
# shellcheck disable=SC2016
printf '%s' "$pack" | compose exec -T broker sh -c \
    'mosquitto_pub -V 5 -q 1 -u birchwood/gw-01 -P "$(tail -n 1 "$GATEWAYS_FILE" | cut -d: -f2)" \
        -t wickwatch/1/birchwood/gw-01/senml -s'
find_reading
compose --profile simulated ps
services="ingest watch notify web reporter simulator"
state() { docker inspect -f "$2" "$(compose --profile simulated ps -a -q "$1")"; }
for service in $services; do
    [ "$(state "$service" '{{.State.Running}} {{.RestartCount}}')" = "true 0" ] \
        || fail "$service does not run, or ran more than once"
done

say "the reading is there, and every service runs; backing up and stopping"
deploy/backup.sh "$work/dump" 2> "$work/backup.log" || { cat "$work/backup.log" >&2; fail "no backup can be made"; }
compose --profile simulated stop > "$work/stop.log" 2>&1 || { cat "$work/stop.log" >&2; fail "the services do not stop"; }
for service in $services broker database; do
    [ "$(state "$service" '{{.State.ExitCode}}')" = 0 ] || fail "$service did not stop in good order"
done

say "every service stopped in good order; restoring from nothing"
compose --profile simulated down --volumes > /dev/null 2>&1
deploy/restore.sh "$work/dump" > "$work/restore.log" 2>&1 || { cat "$work/restore.log" >&2; fail "the backup can't be restored"; }
until_ready
find_reading
say "the reading is there again"
