#!/usr/bin/env bash
# Sets the program up on a Debian machine, or brings an installation up to date. Safe to repeat.
#
#   sudo HOST_NAME=lines.example.org docs/deploy/set_up.sh
#
# From the environment:
#   HOST_NAME      the name people type (required the first time)
#   DATABASE       postgresql (default: installed here) or sqlite
#   DATABASE_URL   an existing PostgreSQL; nothing is installed or tuned then
#   TIME_ZONE      the utility's own, such as America/Chicago (default: the machine's, but UTC is
#                  no utility's: it is then required the first time)
#   PARTS          what runs on this machine, where there are several: web, worker, nightly, or some
#                  of them (default: all; then as the last time). One machine has nightly; it
#                  backs up and migrates, so it is the first to be brought up to date.
#   REHEARSE       a folder: everything is written below it, and no package, account or unit is
#                  touched. Needs no root.
set -euo pipefail

code=$(cd "$(dirname "$(readlink -f "$0")")/../.." && pwd)
prefix=${REHEARSE:-}
account=leadlines
settings=$prefix/etc/leadlines.env
data=$prefix/var/lib/leadlines
backups=$prefix/var/backups/leadlines
keys=$prefix/etc/leadlines-keys
venv=$prefix/opt/leadlines-venv
units=/etc/systemd/system
kept_parts=$prefix/etc/leadlines.parts

say() { printf '== %s\n' "$*"; }
fail() { printf '%s\n' "$*" >&2; exit 1; }
rehearsing() { [ -n "$prefix" ]; }
as_account() { if rehearsing; then "$@"; else runuser -u "$account" -- "$@"; fi; }
manage() {
  as_account env -C "$code" SETTINGS="$settings" VENV="$venv" "$code/docs/deploy/manage.sh" "$@"
}

rehearsing || [ "$(id -u)" = 0 ] || fail "Run this as root, or give REHEARSE=a-folder."
zone=${TIME_ZONE:-$(realpath --relative-base=/usr/share/zoneinfo /etc/localtime)}
check_what_was_given() {
  case ${HOST_NAME:-} in
    '') fail "Give HOST_NAME: the name people will type." ;;
    *[!A-Za-z0-9.-]*) fail "HOST_NAME is a name such as lines.example.org, not $HOST_NAME." ;;
  esac
  case ${DATABASE_URL:-} in
    *[\$\`\"\\]*) fail "In DATABASE_URL write \$, \`, \" and \\ as %24, %60, %22 and %5C." ;;
  esac
  case $zone in
    UTC | Etc/* | /*) fail "Give TIME_ZONE: the utility's own, such as America/Chicago. Its days begin by it." ;;
  esac
  [ -f "/usr/share/zoneinfo/$zone" ] ||
    fail "This machine knows no time zone $zone; it knows America/Chicago, America/New_York."
}
# What runs on this machine; it is remembered, and unless PARTS says otherwise all of it.
parts=${PARTS:-$(cat "$kept_parts" 2>/dev/null || echo web worker nightly)}
for part in $parts; do
  case $part in
    web | worker | nightly) ;;
    *) fail "PARTS names web, worker and nightly, not $part." ;;
  esac
done
[ -n "${parts// /}" ] || fail "PARTS names nothing. Give web, worker or nightly, or several of them."
has() { case " $parts " in *" $1 "*) ;; *) false ;; esac; }

[ -f "$settings" ] || has nightly ||
  fail "Copy $settings of the machine that has the part nightly to this one first: all share its
database, its store and its secret key."
[ -f "$settings" ] || check_what_was_given
own=postgresql:///$account # over the local socket the account is the password
if [ -f "$settings" ]; then
  # What was chosen the first time stands.
  DATABASE_URL=$(sed -n 's/^DATABASE_URL="\(.*\)"$/\1/p' "$settings")
else
  case ${DATABASE:-postgresql} in
    sqlite) DATABASE_URL=sqlite:///$data/program.sqlite3 ;;
    postgresql) DATABASE_URL=${DATABASE_URL:-$own} ;;
    *) fail "DATABASE is postgresql or sqlite, not $DATABASE." ;;
  esac
fi
own_server() { [ "$DATABASE_URL" = "$own" ]; }
! rehearsing || ! own_server || fail "A rehearsal installs no server: give DATABASE_URL."

packages() {
  say "packages"
  local wanted=(python3 python3-venv tzdata age openssl rsync)
  [ "${DATABASE_URL%%:*}" = sqlite ] || wanted+=(postgresql-client)
  ! own_server || wanted+=(postgresql)
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${wanted[@]}" >/dev/null
}

account_and_folders() {
  say "account and folders"
  rehearsing || id "$account" >/dev/null 2>&1 ||
    useradd --system --home-dir "$data" --shell /usr/sbin/nologin "$account"
  mkdir -p "$(dirname "$settings")" "$data" "$backups" "$(dirname "$venv")"
  chmod 750 "$data" "$backups"
  rehearsing || chown "$account:$account" "$data" "$backups"
}

server() {
  say "PostgreSQL: memory for this machine, role, database"
  local megabytes tuned
  megabytes=$(awk '/^MemTotal/ {print int($2 / 1024)}' /proc/meminfo)
  tuned=$(printf '%s\n' \
    "shared_buffers = $((megabytes / 4))MB" \
    "effective_cache_size = $((megabytes * 6 / 10))MB" \
    "work_mem = 32MB" \
    "maintenance_work_mem = $((megabytes / 16))MB" \
    "max_wal_size = 4GB" \
    "random_page_cost = 1.1" \
    "jit = off")
  local folder
  for folder in /etc/postgresql/*/main/conf.d; do
    if [ "$tuned" != "$(cat "$folder/leadlines.conf" 2>/dev/null)" ]; then
      printf '%s\n' "$tuned" >"$folder/leadlines.conf"
      systemctl restart postgresql
    fi
  done
  local ask=(runuser -u postgres -- psql --no-psqlrc -qtA)
  [ "$("${ask[@]}" -c "SELECT 1 FROM pg_roles WHERE rolname = '$account'")" = 1 ] ||
    runuser -u postgres -- createuser "$account"
  # Each night's back-up is restored into a database of its own, which goes again.
  "${ask[@]}" -c "ALTER ROLE $account CREATEDB" >/dev/null
  # Plain byte order: what begins with a key is then found by the ordinary index.
  [ "$("${ask[@]}" -c "SELECT 1 FROM pg_database WHERE datname = '$account'")" = 1 ] ||
    runuser -u postgres -- createdb --owner "$account" --encoding UTF8 --locale C.UTF-8 \
      --template template0 "$account"
}

environment() {
  if [ -f "$settings" ]; then
    say "settings: kept as they are in $settings"
  else
    say "settings: $settings"
    write_settings
  fi
  grep -q '^BACKUP_KEYS=' "$settings" || printf 'BACKUP_KEYS="%s"\n' "$keys" >>"$settings"
  chmod 600 "$settings"
  rehearsing || chown "$account:$account" "$settings"
}

write_settings() {
  local key
  key=$(python3 -c 'import secrets; print(secrets.token_urlsafe(50))')
  (
    umask 077
    cat >"$settings" <<SETTINGS
DATA_DIR="$data"
DATABASE_URL="$DATABASE_URL"
SECRET_KEY="$key"
ALLOWED_HOSTS="$HOST_NAME"
CSRF_TRUSTED_ORIGINS="https://$HOST_NAME"
BEHIND_HTTPS="1"
TIME_ZONE="$zone"
BACKUP_DIR="$backups"
BACKUP_DAYS="30"
BACKUP_MONTHS="12"
BACKUP_YEARS="12"
BACKUP_AWAY=""
SETTINGS
  )
}

keys_of_back_ups() {
  [ -f "$keys/identity" ] || make_keys
  # Keys copied from another machine belong to whoever copied them.
  rehearsing || chown -R "$account:$account" "$keys"
}

make_keys() {
  say "keys of back-ups: keep a copy of $keys elsewhere, without it no back-up can be read"
  command -v age-keygen >/dev/null || fail "age is missing: apt install age"
  (
    umask 077
    mkdir -p "$keys"
    age-keygen --output "$keys/identity" 2>/dev/null
    age-keygen -y "$keys/identity" >"$keys/recipients"
    openssl genpkey -algorithm ed25519 -out "$keys/signing.pem"
    openssl pkey -in "$keys/signing.pem" -pubout -out "$keys/signing.pub"
  )
}

program() {
  say "the program and what it stands on"
  [ -x "$venv/bin/python" ] || python3 -m venv "$venv"
  # These versions by their hashes, or none; then the program itself, which needs nothing more.
  local pip=("$venv/bin/python" -m pip install --quiet --disable-pip-version-check)
  "${pip[@]}" --require-hashes -r "$code/.ci/pinned.txt"
  "${pip[@]}" --no-deps --no-build-isolation -e "$code"
  # The account may not write beside the code, so what Python compiles is written here, once.
  "$venv/bin/python" -m compileall -q "$code"/{services_inventory,replacements,program}
}

written_before() { manage migrate --check >/dev/null 2>&1 || manage showmigrations | grep -q '\[X\]'; }

stop() {
  rehearsing && return
  say "stopping what runs, if it does"
  systemctl stop leadlines-worker leadlines 2>/dev/null || true
}

database() {
  if has nightly; then
    migrated
  else
    manage migrate --check >/dev/null 2>&1 || fail "The database is of another version, or not set up
yet. Run set_up.sh on the machine that has the part nightly first: it backs up and migrates."
  fi
  manage collectstatic --no-input --verbosity 0
  manage build_help
  manage check --deploy --fail-level WARNING
}

migrated() {
  if written_before; then
    say "a back-up of what is there"
    as_account "$code/docs/deploy/back_up.sh" "$settings" "$venv"
  fi
  say "tables and roles"
  # With other machines at work, who waits for a table has everybody wait behind it; on one alone
  # nothing else runs now but a back-up, which may be waited for.
  local patience=0
  ! grep -qE '^(FILES|CACHE)_URL="?.' "$settings" || patience=1s
  PGOPTIONS="-c lock_timeout=$patience" manage migrate --no-input --verbosity 0
  # What lay here before there was a store goes into it.
  ! grep -qE '^FILES_URL="?.' "$settings" || manage shell --no-imports --command \
    "from services_inventory.kept_files import all_handed_over; all_handed_over()"
}

start() {
  printf '%s\n' "$parts" >"$kept_parts"
  rehearsing && { say "rehearsed below $prefix; no unit was written"; return; }
  say "units: $parts"
  local unit address wanted=()
  address=$(sed -n 's/^WEB_ADDRESS="\(.*\)"$/\1/p' "$settings") # where a proxy elsewhere asks
  ! has web || wanted+=(leadlines)
  ! has worker || wanted+=(leadlines-worker)
  ! has nightly || wanted+=(leadlines-nightly.timer)
  for unit in "$code"/docs/deploy/leadlines*.{service,timer}; do
    sed -e "s|@CODE@|$code|g" -e "s|@VENV@|$venv|g" -e "s|@DATA@|$data|g" \
      -e "s|@BACKUPS@|$backups|g" -e "s|@SETTINGS@|$settings|g" \
      -e "s|127.0.0.1:8000|${address:-127.0.0.1:8000}|g" \
      "$unit" >"$units/$(basename "$unit")"
  done
  systemctl daemon-reload
  systemctl disable --now leadlines leadlines-worker leadlines-nightly.timer 2>/dev/null || true
  systemctl enable --now "${wanted[@]}"
}

rehearsing || packages
account_and_folders
! own_server || server
environment
! has nightly || keys_of_back_ups
program
stop
database
start
say "done. First account: sudo $code/docs/deploy/manage.sh invite NAME
== The web server in front, back-ups, a new version: $code/docs/deploy.md"
