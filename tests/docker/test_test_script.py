"""The script that runs all checks leaves nothing behind, however it ends."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.docker.scratch import copy_project, sh

SLEEPER = """
import os, pathlib, time

def test_that_takes_its_time():
    if os.environ.get("DATABASE_URL"):
        pathlib.Path(os.environ["STARTED"]).write_text(os.environ["DATABASE_URL"])
        time.sleep(300)
"""


def becomes_true(condition: Callable[[], object], within_s: float = 60) -> bool:
    end = time.monotonic() + within_s
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def processes_naming(text: str) -> list[str]:
    """The command lines of running processes that name `text`."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            line = path.read_bytes().replace(b"\0", b" ").decode(errors="replace")
        except OSError:  # ended meanwhile
            continue
        if text in line:
            found.append(line)
    return found


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder for temporary things that the database server's own account may come to."""
    place = Path(tempfile.mkdtemp(prefix="place-"))
    place.chmod(0o711)
    yield place
    shutil.rmtree(place)


@pytest.fixture
def project(tmp_path) -> Path:
    project = copy_project(tmp_path / "a copy")
    (project / "tests" / "sample").mkdir()
    return project


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_servers_and_tests_end_when_the_script_is_killed(project, place, how):
    (project / "tests" / "sample" / "test_sleeper.py").write_text(SLEEPER)
    with subprocess.Popen(
        ["/bin/sh", "docker/test.sh", "tests/sample"],
        cwd=project,
        env={**os.environ, "TMPDIR": str(place), "STARTED": str(project / "started")},
        stdout=subprocess.DEVNULL,
    ) as script:
        try:
            assert becomes_true(lambda: (project / "started").exists() or script.poll() is not None)
            assert [line for line in processes_naming(str(place)) if "listen_addresses" in line]
            script.send_signal(how)
            status = script.wait(timeout=30)
        finally:
            script.kill()
    assert status == (-how if how == signal.SIGKILL else 128 + how)
    assert becomes_true(lambda: not processes_naming(str(place)), within_s=20)
    if how != signal.SIGKILL:
        assert list(place.iterdir()) == []


@pytest.mark.parametrize(("outcome", "status"), [("assert True", 0), ("assert False", 1)])
def test_the_exit_status_is_that_of_the_tests_and_nothing_is_left(project, place, outcome, status):
    (project / "tests" / "sample" / "test_sample.py").write_text(f"def test_sample():\n    {outcome}\n")
    done = sh("docker/test.sh", "tests/sample", cwd=project, env={"TMPDIR": str(place)})
    assert done.returncode == status, done.stdout + done.stderr
    assert "tests on PostgreSQL" in done.stdout
    assert list(place.iterdir()) == []
    assert {path.name for path in (project / "var").iterdir()} == {"setup.lock"}
