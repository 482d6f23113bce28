#!/bin/sh
# One command from a bare Debian to the working tool: sh docker/run.sh [--once] [--port N]
set -eu

usage() {
    echo "usage: sh docker/run.sh [--once] [--port N]"
    echo "  --once    set up, run the main job on the bundled case, print its report and end"
    echo "  --port N  serve on 127.0.0.1:N (8000 unless given)"
}

once=
port=8000
while [ $# -gt 0 ]; do
    case $1 in
        --once) once=yes ;;
        --port)
            [ $# -gt 1 ] || { usage >&2; exit 2; }
            port=$2
            shift
            ;;
        -h | --help) usage; exit 0 ;;
        *) usage >&2; exit 2 ;;
    esac
    shift
done
case $port in
    '' | *[!0-9]* | ??????*) port=0 ;;
esac
if [ "$port" -lt 1 ] || [ "$port" -gt 65535 ]; then
    echo "--port takes a whole number from 1 to 65535." >&2
    exit 2
fi

CDPATH='' cd -- "$(dirname -- "$0")/.."
. docker/setup.sh

# This shop keeps everything under var/; settings meant for another one do not count here.
unset DATABASE_URL REDIS_URL EMAIL_URL ALLOWED_HOSTS DATA_DIR SECRET_KEY DEBUG
export DJANGO_SETTINGS_MODULE=consults.project.settings.local

port_is_free() {
    "$python" - "$port" <<'END'
import socket, sys
with socket.socket() as probe:
    probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        probe.bind(("127.0.0.1", int(sys.argv[1])))
    except OSError:
        sys.exit(1)
END
}

lock
prepare run
if [ -z "$once" ] && ! port_is_free; then
    say "Port $port is in use by another program, or not allowed. Stop that program, or choose another port:"
    say "    sh docker/run.sh --port $((port % 65535 + 1))"
    exit 1
fi

umask 077
if [ ! -s var/secret-key ]; then
    "$python" -c 'import secrets; print(secrets.token_urlsafe(50))' >var/secret-key.new
    mv var/secret-key.new var/secret-key
fi
compile_catalogues
"$python" manage.py migrate --no-input --verbosity 0
collect_static
logins=$("$python" manage.py demo)
"$python" manage.py walkin
unlock
[ -z "$once" ] || exit 0

# The server dies with this script, however that ends.
setpriv --pdeathsig TERM "$python" -m gunicorn --workers 2 --bind "127.0.0.1:$port" --log-level warning \
    consults.project.wsgi:application </dev/null &
server=$!
stop() {
    trap '' HUP INT TERM
    kill -TERM "$server" 2>/dev/null || :
    wait "$server" || :
    exit "$1"
}
trap 'stop 129' HUP
trap 'stop 130' INT
trap 'stop 143' TERM
if ! "$python" docker/health.py --port "$port" --wait 60 --pid "$server"; then
    say "The server did not come up; what it said stands above."
    stop 1
fi
printf '%s\n' "$logins"
printf 'ready: http://127.0.0.1:%s/\n' "$port"
wait "$server"
