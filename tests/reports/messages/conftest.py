"""Servers and databases of these tests."""

import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.db import connections

from tests.servers import SmtpServer, free_port, smtp

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def mail_server(settings: Any) -> Iterator[SmtpServer]:
    """A real mail server in a process of its own, and this process sending to it."""
    with smtp() as server:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.host, server.port
        yield server


@pytest.fixture
def no_mail_server(settings: Any) -> None:
    """This process sending to a port where nobody listens."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port()


@pytest.fixture
def eml_folder(settings: Any, tmp_path: Path) -> Path:
    settings.EMAIL_BACKEND = "reports.messages.eml.EmlBackend"
    settings.OUTGOING_MAIL_DIR = tmp_path / "outgoing"
    return settings.OUTGOING_MAIL_DIR


@pytest.fixture
def shared_database(transactional_db: None, settings: Any, tmp_path: Path) -> Iterator[str]:
    """The address of a database that other processes and threads see too.

    On PostgreSQL the test database is one. On SQLite it lives in this process's memory: a copy in a file
    takes its place for the length of the test.
    """
    usual = connections["default"]
    usual.ensure_connection()
    if usual.vendor != "sqlite":
        facts = usual.settings_dict
        yield f"postgres://{facts['USER']}@{facts['HOST']}:{facts['PORT']}/{facts['NAME']}"
        return
    path = tmp_path / "shared.sqlite3"
    with closing(sqlite3.connect(path)) as copy:
        usual.connection.backup(copy)
    name = settings.DATABASES["default"]["NAME"]
    settings.DATABASES["default"]["NAME"] = path
    connections["default"] = usual.copy()
    connections["default"].settings_dict["NAME"] = path
    try:
        yield f"sqlite:///{path}"
    finally:
        connections["default"].close()
        connections["default"] = usual
        settings.DATABASES["default"]["NAME"] = name


@pytest.fixture
def start(
    shared_database: str, settings: Any, tmp_path: Path
) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    """`start("-m", "celery", …, REDIS_URL=…)`: a Python process of the site on the same database."""
    started: list[subprocess.Popen[str]] = []

    def run(*arguments: str, **environment: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, *arguments],
            cwd=ROOT,
            env={
                **{
                    name: os.environ[name]
                    for name in ("PATH", "TMPDIR", "LD_LIBRARY_PATH")
                    if name in os.environ
                },
                "DJANGO_SETTINGS_MODULE": "consults.project.settings.local",
                "DATABASE_URL": shared_database,
                "DATA_DIR": str(tmp_path / "data"),
                "SECRET_KEY": "only-for-tests-" + "x" * 50,
                "PYTHONDONTWRITEBYTECODE": "1",
                **environment,
            },
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        started.append(process)
        return process

    (tmp_path / "data").mkdir()
    settings.MEDIA_ROOT = tmp_path / "data" / "private"  # what one of them stores the other finds
    yield run
    for process in started:
        if process.poll() is None:
            process.kill()
        output, _ = process.communicate()
        print(output)  # shown when the test fails


def wait_until(holds: Callable[[], bool], *, seconds: float = 60) -> None:
    """Look again until it holds; a failure of the test when it does not within the time."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, f"it did not come true within {seconds} s"
        time.sleep(0.05)
