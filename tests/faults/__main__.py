"""`python -m tests.faults [--quick | --moments 200] [--json]`: what is lost, what comes twice when they die.

Starts a private PostgreSQL, Redis and mail server, and the site's own Celery worker and schedule; kills the
worker at each named step and at random moments, stops Redis, the mail server and the database, fills the
disk; then counts what arrived. It ends with status 1 when a message was lost, or arrived twice other than by
a death (or a lost connection) between the mail server's acceptance and the mark on the row.

Leases, pauses and the schedule are shorter than in a shop (tests/faults/worker.py): nothing else would end.
"""

import argparse
import contextlib
import json
import os
import sys
import tempfile
from pathlib import Path

from tests.faults.machines import broker, database


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="only the named steps, once each")
    parser.add_argument("--moments", type=int, default=200, help="random moments to kill the worker at")
    parser.add_argument("--only", default="", help="scenes whose names hold one of these, parted by commas")
    parser.add_argument("--json", action="store_true", help="print the numbers as JSON")
    options = parser.parse_args()
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="desk-faults-")))
        url, postgres = stack.enter_context(database())
        broker_url, redis = stack.enter_context(broker())
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            "DATABASE_URL": url,
            "REDIS_URL": broker_url,
            "DATA_DIR": str(folder / "data"),
            "SECRET_KEY": "only-for-tests-" + "x" * 50,
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        from tests.faults.shop import Shop  # needs the addresses above

        shop = stack.enter_context(Shop.opened(folder, postgres, redis))
        from tests.faults import scenes

        report = scenes.play(
            shop,
            quick=options.quick,
            moments=options.moments,
            tell=not options.json,
            only=options.only,
        )
    if options.json:
        print(json.dumps(report, indent=2))
    return 0 if report["holds"] else 1


if __name__ == "__main__":
    sys.exit(main())
