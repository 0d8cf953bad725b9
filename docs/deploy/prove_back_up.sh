#!/usr/bin/env bash
# Restores the newest back-up into a scratch folder (and a scratch database on PostgreSQL), looks at it
# as at night, builds its submissions again and compares them; says what came of it on the boards.
#
#   prove_back_up.sh [SETTINGS] [VENV]  as the program's account or root; nothing needs to stop
set -uo pipefail

settings=${1:-/etc/leadlines.env}
venv=${2:-/opt/leadlines-venv}
# shellcheck source=settled.sh
. "$(dirname "$(readlink -f "$0")")/settled.sh" || exit 1

name=$(find "$BACKUP_DIR" -mindepth 1 -maxdepth 1 -type d -name '2*Z' -printf '%f\n' | sort | tail -n 1)
[ -n "$name" ] || { echo "There is no back-up in $BACKUP_DIR." >&2; exit 1; }
scratch=$(mktemp -d "$BACKUP_DIR/.unfinished-proof-XXXXXX")
spare=${DATABASE_URL%/*}/leadlines_proof_$$
put_away() {
  rm -rf "$scratch"
  case $DATABASE_URL in
    sqlite:*) ;;
    *)
      psql --no-psqlrc --quiet --dbname="$DATABASE_URL" --command="SET client_min_messages = warning" \
        --command="DROP DATABASE IF EXISTS ${spare##*/}"
      ;;
  esac
}
trap put_away EXIT

restored() {
  local url
  mkdir "$scratch/opened" "$scratch/data" &&
    "$here/open_back_up.sh" "$BACKUP_DIR/$name" "$scratch/opened" &&
    tar --extract --gzip --file="$scratch/opened/files.tar.gz" --directory="$scratch/data" || return 1
  if [ -f "$scratch/opened/store.tar.gz" ]; then # looked at as it lies in the back-up
    tar --extract --gzip --file="$scratch/opened/store.tar.gz" --directory="$scratch/data" || return 1
    unset FILES_URL
  fi
  case $DATABASE_URL in
    sqlite:*)
      url=sqlite:///$scratch/data/program.sqlite3
      cp "$scratch/opened/program.sqlite3" "$scratch/data/program.sqlite3" || return 1
      ;;
    *)
      url=$spare
      psql --no-psqlrc --quiet --dbname="$DATABASE_URL" --command="CREATE DATABASE ${spare##*/}
        TEMPLATE template0 ENCODING 'UTF8' LC_COLLATE 'C.UTF-8' LC_CTYPE 'C.UTF-8'" || return 1
      pg_restore --no-owner --no-privileges --exit-on-error --dbname="$spare" "$scratch/opened/program.dump" &&
        psql --no-psqlrc --quiet --dbname="$spare" --command="ANALYZE" || return 1
      ;;
  esac
  export DATABASE_URL=$url DATA_DIR=$scratch/data
  "$venv/bin/python" manage.py migrate --check >/dev/null &&
    "$venv/bin/python" manage.py seal_record --met "$(cat "$BACKUP_DIR/$name/record_head")" &&
    "$venv/bin/python" manage.py check_record &&
    "$venv/bin/python" manage.py annual_submission --verify --in-turn
}

if (restored); then
  "$venv/bin/python" manage.py note_proof restored --about "$name"
else
  "$venv/bin/python" manage.py note_proof restored --failed --about "$name"
  exit 1
fi
