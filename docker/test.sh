#!/bin/sh
# Every check of the project: sh docker/test.sh [pytest arguments… | --benchmarks [--json]]
# With arguments only the tests they name run, on both databases; without, everything does.
set -eu
CDPATH='' cd -- "$(dirname -- "$0")/.."
. docker/setup.sh

lock
prepare test
compile_catalogues
unlock

# Whatever comes into being, comes into being here; the servers' own account must be able to pass.
tmp=$(mktemp -d "${TMPDIR:-/tmp}/desk.XXXXXX")
child=
finish() {
    trap '' HUP INT TERM
    if [ -n "$child" ]; then
        kill -TERM -"$child" 2>/dev/null || :
        sleep 1
        kill -KILL -"$child" 2>/dev/null || :
    fi
    rm -rf "$tmp"
}
trap finish EXIT
trap 'exit 129' HUP
trap 'exit 130' INT
trap 'exit 143' TERM
chmod 711 "$tmp"
mkdir "$tmp/t"
chmod 711 "$tmp/t"

unset DATABASE_URL REDIS_URL EMAIL_URL DEFAULT_FROM_EMAIL SECRET_KEY ALLOWED_HOSTS DEBUG
export TMPDIR="$tmp/t" DATA_DIR="$tmp/data" DJANGO_SETTINGS_MODULE=consults.project.settings.test
export RUFF_CACHE_DIR="$tmp/ruff" MYPY_CACHE_DIR="$tmp/mypy" HYPOTHESIS_STORAGE_DIRECTORY="$tmp/hypothesis"
export COVERAGE_FILE="$tmp/coverage" PYTHONDONTWRITEBYTECODE=1

# In a process group of its own, in the background: a signal to this script is acted on at once, and
# nothing that a step started outlives it. (The shell makes background work deaf to INT.)
run() {
    setsid setpriv --pdeathsig TERM -- env --default-signal=INT,QUIT "$@" </dev/null &
    child=$!
    status=0
    wait "$child" || status=$?
    kill -TERM -"$child" 2>/dev/null || :
    child=
    return "$status"
}

failed=0
summary=
step() {
    name=$1
    shift
    say "=== $name"
    began=$(date +%s)
    status=0
    "$@" || status=$?
    verdict=ok
    [ "$status" = 0 ] || { verdict="FAILED (status $status)"; failed=1; }
    summary="$summary$(printf '%-34s %4d s  %s' "$name" "$(($(date +%s) - began))" "$verdict")
"
}

in_production() {
    run env DJANGO_SETTINGS_MODULE=consults.project.settings.production \
        SECRET_KEY="$("$python" -c 'import secrets; print(secrets.token_urlsafe(50))')" \
        DATABASE_URL=postgres://nobody@127.0.0.1:1/none REDIS_URL=redis://127.0.0.1:1/0 \
        EMAIL_URL=smtp://127.0.0.1:1 DEFAULT_FROM_EMAIL=plans@shop.example ALLOWED_HOSTS=shop.example "$@"
}

if [ "${1-}" = --benchmarks ]; then
    shift
    run "$python" -m tests.benchmarks "$@"
    exit
fi

# One test run: `tests sqlite|postgres pytest-arguments…`
tests() {
    database=$1
    shift
    set -- "$python" -m pytest -q -o cache_dir="$tmp/pytest" --output "$tmp/results" "$@"
    [ "$database" = sqlite ] || set -- "$python" -m tests.servers postgres -- "$@"
    run "$@"
}

# The arguments may name browser tests only, which leaves nothing (status 5) to do here.
again_on_postgres() {
    tests postgres -m "not browser" "$@" || [ "$status" = 5 ]
}

if [ $# -gt 0 ]; then
    step "tests on SQLite" tests sqlite "$@"
    step "tests on PostgreSQL" again_on_postgres "$@"
else
    step "ruff check" run "$python" -m ruff check .
    step "ruff format" run "$python" -m ruff format --check .
    step "mypy" run "$python" -m mypy garden consults reports
    step "import directions" run "$python" -c \
        'from importlinter.cli import lint_imports_command; lint_imports_command()' --no-cache
    step "migrations are complete" run "$python" manage.py makemigrations --check --dry-run
    step "production settings" in_production "$python" manage.py check --deploy --fail-level WARNING
    step "tests on SQLite" tests sqlite -n 2 --dist loadfile -m "not browser"
    step "browser tests on SQLite" tests sqlite -n 2 --dist loadfile -m browser
    # The second time only what asks the database in a way of its own: pages that were walked once, papers and
    # forms would show nothing new. The scripts' and the faults' own tests bring their databases along.
    step "tests on PostgreSQL" tests postgres -n 2 --dist loadfile -m "django_db and not browser" \
        --ignore tests/docker --ignore tests/faults --ignore tests/reports/documents --ignore tests/garden/bench \
        --ignore tests/architecture --ignore tests/consults/rules/test_editing.py
fi

printf '\n%s' "$summary"
exit "$failed"
