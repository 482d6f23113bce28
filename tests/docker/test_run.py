"""The one command that starts the tool, run for real in a copy of the project."""

import http.client
import os
import re
import signal
import socket
import sqlite3
import stat
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.docker.scratch import copy_project, sh
from tests.servers import free_port

PATIENCE_S = 120
# Settings of another shop, which must not reach this one; and a network that leads nowhere.
FOREIGN = {
    "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none",
    "REDIS_URL": "redis://127.0.0.1:1/0",
    "EMAIL_URL": "smtp://127.0.0.1:1",
    "DEBUG": "1",
    "DJANGO_SETTINGS_MODULE": "consults.project.settings.test",
    "PIP_NO_INDEX": "1",
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory) -> Path:
    return copy_project(tmp_path_factory.mktemp("run") / "a shop with spaces")


@pytest.fixture(scope="module")
def first(shop) -> subprocess.CompletedProcess[str]:
    """The report of the first run, started from another folder."""
    return sh(shop / "docker" / "run.sh", "--once", cwd=shop.parent, env=FOREIGN)


def rows(shop: Path) -> dict[str, int]:
    with closing(sqlite3.connect(shop / "var" / "desk.sqlite3")) as database:
        names = [name for (name,) in database.execute("select name from sqlite_master where type = 'table'")]
        return {name: database.execute(f'select count(*) from "{name}"').fetchone()[0] for name in names}


def reported(name: str, shop: Path, output: str) -> Path:
    found = re.search(rf"^{name}: (.+)$", output, re.MULTILINE)
    assert found, output
    return shop / found[1]


def get(port: int, path: str) -> tuple[int, str]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request("GET", path)
        answer = connection.getresponse()
        return answer.status, answer.read().decode(errors="replace")


def becomes_true(condition: Callable[[], bool], within_s: float = 15) -> bool:
    end = time.monotonic() + within_s
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        return probe.connect_ex(("127.0.0.1", port)) != 0


@contextmanager
def serving(shop: Path) -> Iterator[tuple[subprocess.Popen[str], int, str]]:
    """The running script, its port, and what it said up to and with the line `ready:`."""
    port = free_port()
    command = ["/bin/sh", str(shop / "docker" / "run.sh"), "--port", str(port)]
    # A shell started where hang-ups are ignored (nohup) could not heed one: it gets the usual manners back.
    with subprocess.Popen(
        command, cwd="/", env={**os.environ, **FOREIGN}, stdout=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_DFL),
    ) as script:  # fmt: skip
        assert script.stdout is not None
        try:
            said = ""
            for line in script.stdout:
                said += line
                if line.startswith("ready:"):
                    break
            yield script, port, said
        finally:
            script.terminate()
            script.wait(timeout=PATIENCE_S)


def test_the_first_run_does_the_main_job_and_leaves_plan_and_mail(shop, first):
    assert first.returncode == 0, first.stderr
    assert reported("plan", shop, first.stdout).read_bytes().startswith(b"%PDF-")
    assert b"Subject:" in reported("email", shop, first.stdout).read_bytes()
    assert "ready:" not in first.stdout


def test_the_secret_is_long_and_only_the_owner_may_read_it(shop, first):
    secret = shop / "var" / "secret-key"
    assert len(secret.read_text().strip()) >= 50
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600


def test_what_the_shop_stores_is_for_the_owner_only(shop, first):
    assert stat.S_IMODE((shop / "var" / "desk.sqlite3").stat().st_mode) == 0o600


def test_a_second_run_keeps_the_secret_and_everything_stored_and_fetches_nothing(shop, first):
    secret = (shop / "var" / "secret-key").read_text()
    plan = reported("plan", shop, first.stdout)
    before, printed = rows(shop), plan.read_bytes()
    second = sh(shop / "docker" / "run.sh", "--once", cwd=shop, env=FOREIGN)
    assert second.returncode == 0, second.stderr
    after = rows(shop)
    assert {name for name, count in before.items() if after.get(name, -1) < count} == set()
    assert (shop / "var" / "secret-key").read_text() == secret
    assert plan.read_bytes() == printed
    assert "nstalling" not in second.stderr


def test_ready_is_said_last_and_only_when_the_site_answers(shop, first):
    with serving(shop) as (_, port, said):
        assert said.endswith(f"\nready: http://127.0.0.1:{port}/\n")
        assert get(port, "/health")[0] == 200
        assert get(port, "/")[0] in (200, 302)


def test_the_demo_logins_are_told(shop, first):
    with serving(shop) as (_, _, said):
        assert "password" in said.lower()


def test_an_unknown_page_tells_nothing_of_the_inside(shop, first):
    with serving(shop) as (_, port, _):
        status, page = get(port, "/no-such-page/")
    assert status in (302, 404)
    assert "Traceback" not in page
    assert "DEBUG" not in page


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGKILL])
def test_the_server_ends_with_the_script(shop, first, how):
    with serving(shop) as (script, port, _):
        script.send_signal(how)
        status = script.wait(timeout=PATIENCE_S)
        assert status == (-how if how == signal.SIGKILL else 128 + how)
        assert becomes_true(lambda: is_free(port))


def test_a_busy_port_is_said_plainly_before_anything_is_done(tmp_path):
    project = copy_project(tmp_path / "shop")
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        done = sh("docker/run.sh", "--port", str(port), cwd=project)
    assert done.returncode == 1
    assert f"Port {port} is in use" in done.stderr
    assert "ready:" not in done.stdout
    assert not (project / "var" / "desk.sqlite3").exists()


@pytest.mark.parametrize(
    "arguments", [["--port"], ["--port", "0"], ["--port", "65536"], ["--port", "8000x"], ["-x"]]
)
def test_arguments_that_make_no_sense_are_refused(tmp_path, arguments):
    project = copy_project(tmp_path / "shop")
    done = sh("docker/run.sh", *arguments, cwd=project)
    assert done.returncode == 2
    assert "--port" in done.stderr
    assert not (project / "var").exists()
