#!/bin/sh
# Makes the secrets that docker-compose.yml wants, each once; what is there stays. Names the files it made.
# The folder is for its owner only. The files in it are readable to all, because they are shown to containers whose
# users are no users of this machine; whoever may not enter the folder cannot read them.
set -eu
folder=${1:-${SECRETS:-.data/secrets}}
mkdir -p "$folder"
chmod 700 "$folder"
for name in database-password redis-password organizer-token metrics-token; do
  [ -s "$folder/$name" ] && continue
  head -c 32 /dev/urandom | od -An -v -tx1 | tr -d ' \n' >"$folder/$name"
  chmod 644 "$folder/$name"
  echo "$folder/$name"
done
