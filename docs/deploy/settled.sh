# Sourced by the scripts beside it, once $settings and $venv are known: from here on they run as the
# account that the settings belong to, also when root calls them, and in the program's folder.
here=$(cd "$(dirname "$(readlink -f "$0")")" && pwd)
owner=$(stat --format=%U "$settings")
if [ "$(id -u)" = 0 ] && [ "$owner" != root ]; then
  exec runuser -u "$owner" -- "$0" "$@"
fi
set -a
# shellcheck source=/dev/null
. "$settings"
set +a
umask 077
cd "$here/../.." # `find` fails in a folder that it may not read, such as another's home
