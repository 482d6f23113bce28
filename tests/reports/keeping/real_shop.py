"""Run by a test as a program of its own: a shop on real files, one of whose growers is erased.

Prints as JSON which files spoke of her before and which do afterwards.
"""

import json
import os
import sys
from pathlib import Path

import django

if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "consults.project.settings.local"
    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection

    from tests.reports.keeping.making import found_in_files, found_in_tables, make_life

    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    call_command("migrate", verbosity=0)
    life = make_life()
    folder = Path(settings.DATA_DIR)
    before = found_in_files(folder)
    call_command("erase-grower", str(life.grower.pk), yes=True, stdout=sys.stderr)
    rows = found_in_tables()
    in_use = found_in_files(folder)
    connection.close()
    print(json.dumps({"before": before, "rows": rows, "in_use": in_use, "after": found_in_files(folder)}))
