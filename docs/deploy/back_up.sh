#!/usr/bin/env bash
# Writes the database and the files into one dated folder: encrypted, with checksums, signed;
# sends it away, and drops what is kept no longer.
#
#   back_up.sh [SETTINGS] [VENV]        as the program's account or root; nothing needs to stop
set -euo pipefail

settings=${1:-/etc/leadlines.env}
venv=${2:-/opt/leadlines-venv}
# shellcheck source=settled.sh
. "$(dirname "$(readlink -f "$0")")/settled.sh"

mkdir -p "$BACKUP_DIR"
# Of two that begin within a second the later takes the next, so that neither lies in the other.
while name=$(date -u +%Y-%m-%dT%H%M%SZ) && [ -e "$BACKUP_DIR/$name" ]; do sleep 0.1; done
# What an earlier run left half done is no back-up.
rm -rf "$BACKUP_DIR"/.unfinished-*
unfinished=$BACKUP_DIR/.unfinished-$name
mkdir "$unfinished"

# What is on record is sealed, so that it can be proved unaltered whenever it is put back.
"$venv/bin/python" manage.py seal_record >"$unfinished/record_head" ||
  echo "The record could not be sealed; the back-up goes on without its head." >&2

# The database first: a row is written after its file, and a file is never written again, so
# every file that a row of this copy names is among the files copied after it.
case $DATABASE_URL in
  sqlite:*)
    "$venv/bin/python" - "${DATABASE_URL#sqlite:///}" "$unfinished/program.sqlite3" <<'PYTHON'
import sqlite3
import sys

source, target = sys.argv[1:]
sqlite3.connect(source, timeout=120).execute("VACUUM INTO ?", (target,))
found = sqlite3.connect(target).execute("PRAGMA integrity_check").fetchone()[0]
if found != "ok":
    sys.exit(f"The copy of the database is damaged: {found}")
PYTHON
    ;;
  *)
    pg_dump --dbname="$DATABASE_URL" --format=custom --no-owner --no-privileges \
      --file="$unfinished/program.dump"
    pg_restore --list "$unfinished/program.dump" >/dev/null
    ;;
esac
# All but the database (copied above), what is made anew when missing, and what a restore put aside.
# tar's status 1: a file grew while it was read, so no row of the copied database names it yet.
tar --create --gzip --file="$unfinished/files.tar.gz" --directory="$DATA_DIR" \
  --exclude='./program.sqlite3*' --exclude=./static --exclude=./.gunicorn --exclude=./progress --exclude=./uploading --exclude=./asked --exclude=./fetched --exclude=./metrics --exclude=./drops \
  --exclude='./before-restore-*' . || [ $? = 1 ]
# Files in a store that machines share: all of it, too, unless the store keeps copies by itself.
if [ -n "${FILES_URL:-}" ] && [ -z "${BACKUP_WITHOUT_STORE:-}" ]; then
  "$venv/bin/python" manage.py shell --no-imports --command \
    "import sys; from services_inventory.kept_files import store_written; store_written(sys.stdout.buffer)" \
    >"$unfinished/store.tar.gz"
fi

cd "$unfinished"
if [ -n "${BACKUP_KEYS:-}" ]; then
  for part in program.* *.tar.gz; do
    age --encrypt --recipients-file "$BACKUP_KEYS/recipients" --output "$part.age" "$part"
    rm "$part"
  done
else
  echo "BACKUP_KEYS is not set: this back-up is neither encrypted nor signed." >&2
fi
sha256sum -- * >SHA256SUMS
[ -z "${BACKUP_KEYS:-}" ] || openssl pkeyutl -sign -rawin -inkey "$BACKUP_KEYS/signing.pem" \
  -in SHA256SUMS -out SHA256SUMS.signature
sync
mv --no-target-directory "$unfinished" "$BACKUP_DIR/$name"
cd "$BACKUP_DIR"
printf 'Back-up: %s\n' "$BACKUP_DIR/$name"

# Kept: the last of each of so many days, months and years that have one. A restore keeps all.
if [ -z "${KEEP_ALL:-}" ]; then
  find . -mindepth 1 -maxdepth 1 -type d -name '2*Z' -printf '%f\n' | sort -r |
    awk -v days="${BACKUP_DAYS:-30}" -v months="${BACKUP_MONTHS:-12}" -v years="${BACKUP_YEARS:-12}" '
      function first(of, most) { if (of in seen || count[length(of)] >= most) return 0
                                 seen[of]; count[length(of)]++; return 1 }
      { kept = first(substr($0, 1, 10), days) + first(substr($0, 1, 7), months) + first(substr($0, 1, 4), years)
        if (!kept) print }' |
    while read -r old; do rm -rf "${BACKUP_DIR:?}/$old"; done
fi

# Off this machine: any command, such as rsync or one that knows a store of objects.
[ -z "${BACKUP_AWAY:-}" ] || bash -c "$BACKUP_AWAY" || {
  echo "The back-up stands, but it could not be sent away: $BACKUP_AWAY" >&2
  exit 1
}
