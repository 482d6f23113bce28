"""On a real disk: the database file, its journal and every other file forget as well."""

import json
import os
import subprocess
import sys

from django.conf import settings


def test_no_file_under_the_data_folder_says_who_it_was_after_the_command(tmp_path):
    gone = {"DATABASE_URL", "REDIS_URL"}
    environment = {key: value for key, value in os.environ.items() if key not in gone}
    run = subprocess.run(
        [sys.executable, "-m", "tests.reports.keeping.real_shop"],
        env={**environment, "DATA_DIR": str(tmp_path)},
        cwd=settings.ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    said = json.loads(run.stdout.splitlines()[-1])
    assert any("desk.sqlite3" in path for path in said["before"])
    assert any(path.endswith(".eml") for path in said["before"])
    assert any(path.endswith(".pdf") for path in said["before"])
    assert (said["rows"], said["in_use"], said["after"]) == ([], [], [])
