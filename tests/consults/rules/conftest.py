"""Several at once, as on a real database."""

import sqlite3
import threading
from contextlib import closing

import pytest
from django.db import connections


@pytest.fixture
def together(transactional_db, settings, tmp_path):
    """Run functions in threads at once, each with a connection of its own; gives what came back.

    On SQLite the test database is in this process's memory, where threads share one lock: a copy in a file
    takes its place for the length of the test.
    """
    usual = connections["default"]
    usual.ensure_connection()
    name = settings.DATABASES["default"]["NAME"]
    if usual.vendor == "sqlite":
        path = tmp_path / "shared.sqlite3"
        with closing(sqlite3.connect(path)) as copy:
            usual.connection.backup(copy)
        settings.DATABASES["default"]["NAME"] = path
        connections["default"] = usual.copy()
        connections["default"].settings_dict["NAME"] = path

    def run(*functions):
        barrier, results = threading.Barrier(len(functions)), [None] * len(functions)

        def one(place, function):
            try:
                barrier.wait(timeout=20)
                results[place] = function()
            except Exception as error:
                results[place] = error
            finally:
                connections["default"].close()

        threads = [threading.Thread(target=one, args=pair) for pair in enumerate(functions)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
        return results

    yield run
    if usual.vendor == "sqlite":
        connections["default"].close()
        connections["default"] = usual
        settings.DATABASES["default"]["NAME"] = name
