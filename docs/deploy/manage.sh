#!/usr/bin/env bash
# Runs a command of the program with the installation's settings, as its account.
#
#   sudo manage.sh COMMAND …      such as: manage.sh check_record
#
# From the environment: SETTINGS, VENV (defaults as set_up.sh makes them).
set -euo pipefail

settings=${SETTINGS:-/etc/leadlines.env}
venv=${VENV:-/opt/leadlines-venv}
code=$(cd "$(dirname "$(readlink -f "$0")")/../.." && pwd)
# A rehearsal by root has no account of its own: its settings are root's.
owner=$(stat --format=%U "$settings")
if [ "$(id -u)" = 0 ] && [ "$owner" != root ]; then
  exec runuser -u "$owner" -- env SETTINGS="$settings" VENV="$venv" "$0" "$@"
fi
umask 027
set -a
# shellcheck source=/dev/null
. "$settings"
set +a
exec "$venv/bin/python" "$code/manage.py" "$@"
