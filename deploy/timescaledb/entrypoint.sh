#!/bin/bash
# Makes the cluster at the first start, then becomes the server. DATABASE_PASSWORD is the password of the role
# `wickwatch`, which owns the database of that name and is no superuser.
set -euo pipefail
: "${DATABASE_PASSWORD:?set DATABASE_PASSWORD, the password of the role wickwatch}"
data=/var/lib/postgresql/data/pg17
here=/etc/wickwatch/timescaledb

if [ ! -d "$data" ]; then
    # Made beside its place and moved in whole, so that an interrupted first start leaves nothing half made.
    rm -rf "$data.new"
    initdb -D "$data.new" -U postgres --auth-local=peer --auth-host=scram-sha-256 -E UTF8 --locale=C.UTF-8 \
        --data-checksums --no-instructions > /dev/null
    printf 'host all all all scram-sha-256\n' >> "$data.new/pg_hba.conf"
    printf "include '%s/postgresql.conf'\n" "$here" >> "$data.new/postgresql.conf"
    pg_ctl -D "$data.new" -w -s -o "-c listen_addresses='' -c unix_socket_directories=/run/postgresql" start
    psql -qX -v ON_ERROR_STOP=1 -v password="$DATABASE_PASSWORD" -h /run/postgresql -U postgres postgres <<'SQL'
CREATE ROLE wickwatch LOGIN PASSWORD :'password';
CREATE DATABASE wickwatch OWNER wickwatch;
SQL
    pg_ctl -D "$data.new" -w -s -m fast stop
    mv "$data.new" "$data"
fi
exec postgres -D "$data"
