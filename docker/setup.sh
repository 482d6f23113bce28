# Shared by run.sh, test.sh and the Dockerfile: system packages, the virtual environment, the locks.
# Sourced, it only defines functions; called as `sh docker/setup.sh`, it sets up what running needs.
# The caller has changed to the project's root and set `set -eu`. Everything said here goes to stderr.

python=.venv/bin/python
run_packages="python3 python3-venv libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"

say() { printf '%s\n' "$*" >&2; }

# --- one at a time: two set-ups of the same tree must not meet ---------------------------------------
lock() {
    mkdir -p var
    exec 9>var/setup.lock
    flock 9
}
unlock() { exec 9>&-; }

# --- what is there ----------------------------------------------------------------------------------
usable_python() {
    "$1" -c 'import sys, venv, ensurepip; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null
}

# Prints the first interpreter that can make the virtual environment.
find_python() {
    for candidate in python3 python3.13 python3.12 python3.11; do
        if usable_python "$candidate"; then
            printf '%s\n' "$candidate"
            return 0
        fi
    done
    return 1
}

usable_venv() {
    "$python" -c 'import sys, pip; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null
}

# Asks the loader itself, so that libraries from elsewhere than a package count too.
has_library() {
    "$1" -c 'import ctypes, sys; ctypes.CDLL(sys.argv[1])' "$2" 2>/dev/null
}

has_font() {
    for folder in /usr/share/fonts /usr/local/share/fonts "${HOME:-/root}/.fonts" "${HOME:-/root}/.local/share/fonts"; do
        if [ -d "$folder" ] && [ -n "$(find "$folder" -name DejaVuSans.ttf 2>/dev/null)" ]; then
            return 0
        fi
    done
    return 1
}

has_catalogues() { [ -n "$(find garden consults reports -path '*/locale/*' -name '*.po' 2>/dev/null)" ]; }

has_postgresql() {
    command -v initdb >/dev/null 2>&1 && return 0
    for program in /usr/lib/postgresql/*/bin/initdb; do
        [ -x "$program" ] && return 0
    done
    return 1
}

# Prints the Debian packages that are missing: `missing run`, or `missing test` for the tests' as well.
missing() {
    asker=$python
    if ! usable_venv; then
        asker=$(find_python) || { asker=python3 && echo "python3 python3-venv"; }
    fi
    has_library "$asker" libpango-1.0.so.0 || echo libpango-1.0-0
    has_library "$asker" libpangoft2-1.0.so.0 || echo libpangoft2-1.0-0
    has_library "$asker" libharfbuzz-subset.so.0 || echo libharfbuzz-subset0
    has_font || echo fonts-dejavu-core
    if has_catalogues && ! command -v msgfmt >/dev/null 2>&1; then echo gettext; fi
    if [ "$1" = test ]; then
        has_postgresql || echo postgresql
        command -v redis-server >/dev/null 2>&1 || echo redis-server
        command -v chromium >/dev/null 2>&1 || echo chromium
    fi
}

# --- installing -------------------------------------------------------------------------------------
apt() {
    if [ "$(id -u)" = 0 ]; then
        env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=120 "$@"
    else
        sudo -n env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=120 "$@"
    fi
}

may_install() {
    command -v apt-get >/dev/null 2>&1 || return 1
    [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null
}

# Ends with status 2 and the names when something is missing and may not be installed here.
install_packages() {
    wanted=$(missing "$1" | tr '\n' ' ')
    [ -n "$wanted" ] || return 0
    if may_install; then
        say "Installing system packages: $wanted"
        # Nothing started by a package may keep our lock open.
        # shellcheck disable=SC2086
        { apt update && apt install -y --no-install-recommends $wanted; } >&2 9>&- </dev/null || say "apt-get failed."
        wanted=$(missing "$1" | tr '\n' ' ')
        [ -n "$wanted" ] || return 0
    fi
    say "Some system packages are missing and cannot be installed from here."
    say "Please ask the administrator of this machine to run:"
    say "    apt-get install --no-install-recommends ${wanted% }"
    say "(Python itself must be between 3.11 and 3.13.) Then start this script again."
    exit 2
}

make_venv() {
    usable_venv && return 0
    say "Making the virtual environment."
    "$(find_python)" -m venv --clear .venv
}

# install_lock NAME FILE: nothing is fetched when this lock is what this Python has already.
install_lock() {
    stamp=.venv/installed-$1
    now="$("$python" -V) $(sha256sum <"$2")"
    if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$now" ]; then
        return 0
    fi
    say "Installing Python packages from $2."
    "$python" -m pip install --quiet --no-input --disable-pip-version-check \
        --use-pep517 --require-hashes -r "$2" >&2 || {
        say "The Python packages could not be installed. Is the network reachable? Then start this script again."
        exit 1
    }
    printf '%s\n' "$now" >"$stamp"
}

compile_catalogues() {
    if has_catalogues; then
        DJANGO_SETTINGS_MODULE=consults.project.settings.local \
            "$python" manage.py compilemessages --verbosity 0 --ignore .venv --ignore var >&2
    fi
}

# Compressing takes long, so it is done again only when a static file, a package or the settings changed.
collect_static() {
    now=$(
        cat .venv/installed-run
        find garden consults reports \( -path '*/static/*' -o -path '*/settings/*.py' \) -type f \
            -exec sha256sum {} + | sort
    )
    if [ -f var/static/staticfiles.json ] && [ -f var/static-inputs ] && [ "$(cat var/static-inputs)" = "$now" ]; then
        return 0
    fi
    "$python" manage.py collectstatic --no-input --verbosity 0 >&2
    printf '%s\n' "$now" >var/static-inputs
}

# prepare run | prepare test
prepare() {
    install_packages "$1"
    make_venv
    install_lock run docker/requirements.txt
    if [ "$1" = test ]; then
        install_lock test docker/requirements-test.txt
    fi
}

case ${0##*/} in
    setup.sh)
        set -eu
        CDPATH='' cd -- "$(dirname -- "$0")/.."
        lock
        prepare run
        compile_catalogues
        ;;
esac
