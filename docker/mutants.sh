#!/bin/sh
# Does the suite notice when the science or the reasoning is broken? sh docker/mutants.sh [PATTERN...]
# Small faults are put into a copy of the pure rooms and the rooms' tests run against each. Takes long; a
# pattern such as "garden.agronomy.air*" does a part. Survivors are listed, to be read one by one.
set -eu
CDPATH='' cd -- "$(dirname -- "$0")/.."
. docker/setup.sh
lock
prepare test
unlock
tmp=$(mktemp -d "${TMPDIR:-/tmp}/desk.XXXXXX")
trap 'rm -rf "$tmp"' EXIT
trap 'exit 130' INT TERM
tar -cf - --exclude=./.venv --exclude=./var --exclude=./.git . | tar -xf - -C "$tmp"
here=$PWD
cd "$tmp"
mutmut="$here/.venv/bin/mutmut"
"$mutmut" run "$@" >/dev/null || :
"$mutmut" results | grep survived || :
"$mutmut" export-cicd-stats >/dev/null
"$here/.venv/bin/python" - <<'END'
import json, pathlib
found = json.loads(pathlib.Path("mutants/mutmut-cicd-stats.json").read_text())
tried = found["killed"] + found["survived"] + found["timeout"] + found["suspicious"]
noticed = tried - found["survived"]
print(f"{noticed} of {tried} faults noticed ({100 * noticed / max(1, tried):.0f} %)")
END
