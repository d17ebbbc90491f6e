#!/bin/bash
# Writes the broker's password file, then becomes the broker. Accounts: `wickwatch` (the services, BROKER_PASSWORD),
# `simulator` (SIMULATOR_PASSWORD, left out when empty), and the gateways in GATEWAYS_FILE, one a line:
# facility/gateway:password. A line that is none of that, no remark and not empty stops it: a gateway would be missing.
set -euo pipefail
: "${BROKER_PASSWORD:?set BROKER_PASSWORD, the password of the services}"
here=/etc/wickwatch/mosquitto
run=/run/wickwatch
umask 077

{
    printf 'wickwatch:%s\n' "$BROKER_PASSWORD"
    [ -z "${SIMULATOR_PASSWORD:-}" ] || printf 'simulator:%s\n' "$SIMULATOR_PASSWORD"
    [ -z "${GATEWAYS_FILE:-}" ] || awk '
        /^[a-z0-9][a-z0-9-]*\/[a-z0-9][a-z0-9-]*:./ { print; next }
        /^[^#]/ { print "gateways, line " FNR ": not facility/gateway:password" > "/dev/stderr"; bad = 1 }
        END { exit bad }' "$GATEWAYS_FILE"
} > "$run/passwords"
mosquitto_passwd -U "$run/passwords"
cp "$here/acl" "$run/acl"
cat "$here/mosquitto.conf" "$here/container.conf" > "$run/mosquitto.conf"
exec mosquitto -c "$run/mosquitto.conf"
