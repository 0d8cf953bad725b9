#!/usr/bin/env bash
# Every night: seal and back up, prove that the back-up can be restored, look at the record's invariants and seals, derive it again, verify every submission,
# drop ended sessions, old live samples and what a broken upload left, look at the room on the disks. Fails if one fails.
#
#   nightly.sh [SETTINGS] [VENV]
set -uo pipefail

settings=${1:-/etc/leadlines.env}
venv=${2:-/opt/leadlines-venv}
here=$(cd "$(dirname "$(readlink -f "$0")")" && pwd)
set -a
# shellcheck source=/dev/null
. "$settings"
set +a
cd "$here/../.." || exit 1

failed=0
"$here/back_up.sh" "$settings" "$venv" || failed=1
# The restored back-up is looked at whole, so of the record itself a part is enough; else all of it.
in_turn=--in-turn
"$here/prove_back_up.sh" "$settings" "$venv" || { failed=1; in_turn=; }
whole=
# shellcheck disable=SC2086
"$venv/bin/python" manage.py check_record $in_turn || whole=--failed
"$venv/bin/python" manage.py restate || whole=--failed
"$venv/bin/python" manage.py annual_submission --verify --in-turn || whole=--failed
# shellcheck disable=SC2086
"$venv/bin/python" manage.py note_proof checked $whole || failed=1
[ -z "$whole" ] || failed=1
"$venv/bin/python" manage.py clear_live_samples || failed=1
[ -z "${FILES_URL:-}" ] || "$venv/bin/python" manage.py shell --no-imports --command \
  "from services_inventory.operations.left_over import store_tidied; store_tidied()" || failed=1
"$venv/bin/python" manage.py clearsessions || failed=1
"$venv/bin/python" manage.py axes_reset_logs --age 180 || failed=1
"$venv/bin/python" manage.py axes_reset_failure_logs --age 180 || failed=1
find "$DATA_DIR/uploading" -type f -mmin +1440 -delete || failed=1
for folder in "$DATA_DIR" "$BACKUP_DIR"; do
  used=$(df --output=pcent "$folder" | tail -n 1 | tr -dc 0-9)
  [ "$used" -lt 90 ] || { echo "The disk of $folder is $used % full: make room." >&2; failed=1; }
done
exit "$failed"
