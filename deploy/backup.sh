#!/usr/bin/env bash
# Write the database of docker-compose.yml to a file, while everything runs: deploy/backup.sh FILE. The file is whole or
# is not there. Keep `.env` beside it: what is sealed with its SECRET_KEY is worth nothing without.
set -euo pipefail
file=${1:?where to: deploy/backup.sh FILE}
compose=$(dirname "$0")/compose.sh
umask 077
trap 'rm -f "$file.part"' EXIT
"$compose" exec -T -u postgres database pg_dump -h /run/postgresql -U postgres -Fc wickwatch > "$file.part"
mv "$file.part" "$file"
echo "Wrote $file"
