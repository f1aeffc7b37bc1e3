#!/bin/sh
# Debian's PostgreSQL with the settings and the folder of the official image.
set -eu
data=/var/lib/postgresql/data
cd "$data"
PATH=$(echo /usr/lib/postgresql/*/bin):$PATH
install -d -o postgres -g postgres -m 2775 /var/run/postgresql
as_postgres() { setpriv --reuid=postgres --regid=postgres --init-groups "$@"; }
if [ ! -s "$data/PG_VERSION" ]; then
    chown postgres:postgres "$data"
    chmod 0700 "$data"
    printf %s "$POSTGRES_PASSWORD" > /tmp/password
    chmod 0644 /tmp/password
    as_postgres initdb --pgdata="$data" --username="$POSTGRES_USER" --pwfile=/tmp/password --encoding=UTF8 \
        --locale=C.UTF-8 --auth-local=trust --auth-host=scram-sha-256
    rm /tmp/password
    echo "host all all all scram-sha-256" >> "$data/pg_hba.conf"
    echo "CREATE DATABASE \"$POSTGRES_DB\"" | as_postgres postgres --single -D "$data" postgres
fi
exec setpriv --reuid=postgres --regid=postgres --init-groups postgres -D "$data" -c "listen_addresses=*"
