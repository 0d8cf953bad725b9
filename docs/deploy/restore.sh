#!/usr/bin/env bash
# Puts a back-up in the place of what is there; what was there is backed up first.
#
#   restore.sh BACKUP [SETTINGS] [VENV]   as the program's account or root, web and worker stopped
set -euo pipefail

backup=$(readlink -m "${1:?Give the folder of the back-up.}")
settings=${2:-/etc/leadlines.env}
venv=${3:-/opt/leadlines-venv}
# shellcheck source=settled.sh
. "$(dirname "$(readlink -f "$0")")/settled.sh"
[ -r "$backup/SHA256SUMS" ] || {
  echo "$backup is no back-up, or none that $(id -un) may read; nothing was changed." >&2
  echo "One that was brought here: sudo cp -r IT $BACKUP_DIR/; sudo chown -R $(id -un): $BACKUP_DIR" >&2
  exit 1
}

for unit in leadlines leadlines-worker; do
  if [ "$settings" = /etc/leadlines.env ] && systemctl is-active --quiet "$unit"; then
    echo "$unit runs. First: sudo systemctl stop leadlines leadlines-worker" >&2
    exit 1
  fi
done
opened=$(mktemp -d "$DATA_DIR/before-restore-opened-XXXXXX")
trap 'rm -rf "$opened"' EXIT
"$here/open_back_up.sh" "$backup" "$opened"
case $DATABASE_URL in
  sqlite:*) held=$opened/program.sqlite3 ;;
  *) held=$opened/program.dump ;;
esac
[ -f "$held" ] || {
  echo "This back-up is of the other kind of database ($(basename "$held") is missing)." >&2
  exit 1
}
[ -n "${WITHOUT_BACK_UP:-}" ] || KEEP_ALL=1 BACKUP_AWAY="" "$here/back_up.sh" "$settings" "$venv" || {
  echo "What is there can't be backed up, so it was not replaced. If it is damaged beyond that," >&2
  echo "write env WITHOUT_BACK_UP=1 before restore.sh; on PostgreSQL what is there is then lost." >&2
  exit 1
}

aside=$DATA_DIR/before-restore-$(date -u +%Y-%m-%dT%H%M%SZ)
mkdir "$aside"
case $DATABASE_URL in
  sqlite:*)
    database=${DATABASE_URL#sqlite:///}
    for part in "$database" "$database-wal" "$database-shm"; do
      [ ! -e "$part" ] || mv "$part" "$aside/"
    done
    cp "$held" "$database"
    ;;
  *)
    # Written out whole before anything is dropped; then one transaction, so that whoever looks
    # sees the old record or the new one.
    statements=$aside/restore.sql
    {
      echo "SET client_min_messages = warning; SET lock_timeout = '20s';"
      echo 'DROP SCHEMA public CASCADE; CREATE SCHEMA public;'
      pg_restore --no-owner --no-privileges --file=- "$held" | sed '/^CREATE SCHEMA public;/d'
    } >"$statements"
    psql --no-psqlrc --dbname="$DATABASE_URL" --single-transaction --quiet \
      --set=ON_ERROR_STOP=1 --output=/dev/null --file="$statements" || {
      echo "Nothing was changed. Where a lock timed out, something is still at the database:" >&2
      psql --no-psqlrc --dbname="$DATABASE_URL" --command="SELECT pid, state, left(query, 60) AS
        doing FROM pg_stat_activity WHERE datname = current_database()
        AND pid <> pg_backend_pid()" >&2
      echo "What an ended command left there is ended by: SELECT pg_terminate_backend(PID)" >&2
      rm -r "$aside"
      exit 1
    }
    rm "$statements"
    # A dump has no statistics, and without them the planner takes hours over what takes seconds.
    psql --no-psqlrc --dbname="$DATABASE_URL" --quiet \
      --command="SET client_min_messages = error" --command="ANALYZE"
    ;;
esac
find "$DATA_DIR" -mindepth 1 -maxdepth 1 ! -name 'program.sqlite3*' ! -name 'before-restore-*' \
  ! -name static -exec mv {} "$aside/" \;
for files in "$opened"/*.tar.gz; do
  tar --extract --gzip --file="$files" --directory="$DATA_DIR"
done
# Where machines share a store, what was kept goes into it, over what is there by the same name.
[ -z "${FILES_URL:-}" ] || "$venv/bin/python" manage.py shell --no-imports --command \
  "from services_inventory.kept_files import all_handed_over; all_handed_over()"
"$venv/bin/python" manage.py migrate --no-input --verbosity 0
"$venv/bin/python" manage.py check_record
echo "Restored from $backup. The files that were there lie in $aside."
[ -n "${WITHOUT_BACK_UP:-}" ] || echo "The database and they lie in the newest back-up, too."
