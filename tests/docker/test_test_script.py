"""The script that runs all checks leaves nothing behind, however it ends."""

import os
import signal
import subprocess
import time
from collections.abc import Callable
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
def project(tmp_path) -> Path:
    project = copy_project(tmp_path / "a copy")
    (project / "tests" / "sample").mkdir()
    (tmp_path / "temporary").mkdir()
    # The database server runs as an account of its own, which must be able to come here.
    for folder in (tmp_path / "temporary", tmp_path, tmp_path.parent, tmp_path.parent.parent):
        folder.chmod(0o711)
    return project


def environment(tmp_path: Path) -> dict[str, str]:
    return {"TMPDIR": str(tmp_path / "temporary"), "STARTED": str(tmp_path / "started")}


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_servers_and_tests_end_when_the_script_is_killed(project, tmp_path, how):
    (project / "tests" / "sample" / "test_sleeper.py").write_text(SLEEPER)
    with subprocess.Popen(
        ["/bin/sh", "docker/test.sh", "tests/sample"],
        cwd=project,
        env={**os.environ, **environment(tmp_path)},
        stdout=subprocess.DEVNULL,
    ) as script:
        assert becomes_true((tmp_path / "started").exists)
        assert [line for line in processes_naming(str(tmp_path)) if "listen_addresses" in line]
        script.send_signal(how)
        status = script.wait(timeout=30)
    assert status == (-how if how == signal.SIGKILL else 128 + how)
    assert becomes_true(lambda: not processes_naming(str(tmp_path)), within_s=20)
    if how != signal.SIGKILL:
        assert list((tmp_path / "temporary").iterdir()) == []


@pytest.mark.parametrize(("outcome", "status"), [("assert True", 0), ("assert False", 1)])
def test_the_exit_status_is_that_of_the_tests_and_nothing_is_left(project, tmp_path, outcome, status):
    (project / "tests" / "sample" / "test_sample.py").write_text(f"def test_sample():\n    {outcome}\n")
    done = sh("docker/test.sh", "tests/sample", cwd=project, env=environment(tmp_path))
    assert done.returncode == status, done.stdout + done.stderr
    assert "tests on PostgreSQL" in done.stdout
    assert list((tmp_path / "temporary").iterdir()) == []
    assert {path.name for path in (project / "var").iterdir()} == {"setup.lock"}
