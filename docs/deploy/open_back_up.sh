#!/usr/bin/env bash
# Checks signature and checksums of a back-up, and lays what is in it, readable, into a folder.
#
#   open_back_up.sh BACKUP FOLDER       with BACKUP_KEYS in the environment, where there are any
set -euo pipefail

backup=$(readlink -f "${1:?Give the folder of the back-up.}")
folder=$(readlink -f "${2:?Give an empty folder.}")
umask 077

damaged() { echo "$1; nothing was changed." >&2; exit 1; }
cd "$backup"
if [ -n "${BACKUP_KEYS:-}" ] && [ -z "${UNSIGNED:-}" ]; then
  [ -f SHA256SUMS.signature ] || damaged "This back-up is not signed (one of before there were keys: write env UNSIGNED=1)"
  openssl pkeyutl -verify -pubin -inkey "$BACKUP_KEYS/signing.pub" -rawin -in SHA256SUMS \
    -sigfile SHA256SUMS.signature >/dev/null || damaged "This back-up was not signed with $BACKUP_KEYS/signing.pub"
fi
sha256sum --check --quiet --strict SHA256SUMS || damaged "This back-up is damaged"
for part in program.* *.tar.gz*; do
  case $part in
    *.age) age --decrypt --identity "${BACKUP_KEYS:?names the folder of its keys}/identity" --output "$folder/${part%.age}" "$part" ||
      damaged "This back-up is of other keys than those in $BACKUP_KEYS" ;;
    *) ln -s "$backup/$part" "$folder/$part" ;;
  esac
done
