#!/usr/bin/env bash
# Put a file of backup.sh in the place of the database of docker-compose.yml: deploy/restore.sh FILE. What was there goes.
# Afterwards the services start and bring the schema to this version's.
set -euo pipefail
file=${1:?what from: deploy/restore.sh FILE}
[ -s "$file" ] || { echo "$file is not there, or empty" >&2; exit 1; }
compose=$(dirname "$0")/compose.sh
on() { "$compose" exec -T -u postgres database "$@"; }
sql() { on psql -qX -v ON_ERROR_STOP=1 -h /run/postgresql -U postgres "$@"; }

"$compose" up -d database
until "$compose" exec -T database pg_isready -q -h 127.0.0.1 -U wickwatch -d postgres; do sleep 1; done
"$compose" stop ingest watch notify reporter web
sql -d postgres -c 'DROP DATABASE IF EXISTS wickwatch WITH (FORCE)' -c 'CREATE DATABASE wickwatch OWNER wickwatch'
# TimescaleDB's own way: https://docs.timescale.com, "Logical backup".
sql -d wickwatch -c 'CREATE EXTENSION timescaledb' -c 'SELECT timescaledb_pre_restore()' > /dev/null
on pg_restore -h /run/postgresql -U postgres -d wickwatch --exit-on-error < "$file"
sql -d wickwatch -c 'SELECT timescaledb_post_restore()' -c ANALYZE > /dev/null
"$compose" up -d
