"""Machines that lack something: what is asked for, and of whom."""

import re
import sys
from pathlib import Path

import pytest

from tests.docker.scratch import copy_project, sh, tools

LIBRARIES = {"libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"}
NO_LIBRARIES = """
import ctypes
real = ctypes.CDLL
def refuse(name, *more, **named):
    if name and ("pango" in str(name) or "harfbuzz" in str(name)):
        raise OSError(f"{name}: cannot open shared object file")
    return real(name, *more, **named)
ctypes.CDLL = refuse
"""
LOG = 'echo "{name} $*" >>"{log}"'


@pytest.fixture
def project(tmp_path) -> Path:
    return copy_project(tmp_path / "shop", environment=False)


def python_without_libraries(folder: Path) -> str:
    (folder / "site").mkdir()
    (folder / "site" / "sitecustomize.py").write_text(NO_LIBRARIES)
    return f'PYTHONPATH="{folder / "site"}" exec "{sys.executable}" "$@"'


def asked_for(message: str) -> set[str]:
    found = re.search(r"apt-get install --no-install-recommends (.+)", message)
    return set(found[1].split()) if found else set()


def test_without_python_and_rights_the_administrator_is_asked_for_everything(project, tmp_path):
    path = tools(tmp_path / "bin")
    done = sh("docker/run.sh", cwd=project, env={"PATH": str(path)})
    assert done.returncode == 2
    assert asked_for(done.stderr) >= {"python3", "python3-venv", *LIBRARIES}
    assert "administrator" in done.stderr
    assert done.stdout == ""


def test_only_the_libraries_that_are_missing_are_asked_for(project, tmp_path):
    path = tools(tmp_path / "bin", stubs={"python3": python_without_libraries(tmp_path)})
    done = sh("docker/run.sh", "--once", cwd=project, env={"PATH": str(path)})
    assert done.returncode == 2
    assert asked_for(done.stderr) - {"fonts-dejavu-core"} == LIBRARIES
    assert not (project / ".venv").exists()


def test_a_python_of_another_age_is_not_taken(project, tmp_path):
    path = tools(tmp_path / "bin", stubs={"python3": "exit 1", "python3.12": "exit 1"})
    done = sh("docker/run.sh", cwd=project, env={"PATH": str(path)})
    assert done.returncode == 2
    assert "between 3.11 and 3.13" in done.stderr


def test_root_installs_what_is_missing_and_nothing_recommended(project, tmp_path):
    log = tmp_path / "log"
    stubs = {
        "python3": python_without_libraries(tmp_path),
        "id": "echo 0",
        "apt-get": LOG.format(name="apt-get", log=log),
    }
    path = tools(tmp_path / "bin", stubs=stubs)
    done = sh("docker/run.sh", "--once", cwd=project, env={"PATH": str(path)})
    update, install = log.read_text().splitlines()
    assert update.endswith(" update")
    assert " install -y --no-install-recommends " in install
    assert set(install.split()) >= LIBRARIES
    # The stub installed nothing, and that is noticed.
    assert done.returncode == 2


def test_sudo_is_used_only_where_it_asks_no_password(project, tmp_path):
    log = tmp_path / "log"
    stubs = {
        "python3": python_without_libraries(tmp_path),
        "id": "echo 1000",
        "apt-get": "exit 1",
        "sudo": LOG.format(name="sudo", log=log),
    }
    path = tools(tmp_path / "bin", stubs=stubs)
    sh("docker/run.sh", "--once", cwd=project, env={"PATH": str(path)})
    calls = log.read_text().splitlines()
    assert all(call.startswith("sudo -n ") for call in calls)
    assert any("--no-install-recommends" in call for call in calls)


def test_the_tests_ask_for_their_servers_and_browser_too(tmp_path):
    project = copy_project(tmp_path / "shop")
    path = tools(tmp_path / "bin", without=["redis", "chromium"])
    done = sh("docker/test.sh", cwd=project, env={"PATH": str(path)})
    assert done.returncode == 2
    assert asked_for(done.stderr) >= {"redis-server", "chromium"}


def test_a_changed_lock_is_installed_again_and_an_unchanged_one_is_not(tmp_path):
    project = copy_project(tmp_path / "shop")
    offline = {"PIP_NO_INDEX": "1"}  # everything is there already: nothing may be fetched
    (project / ".venv" / "installed-run").write_text("another lock\n")
    first = sh("docker/setup.sh", cwd=project, env=offline)
    again = sh("docker/setup.sh", cwd=project, env=offline)
    assert (first.returncode, again.returncode) == (0, 0), first.stderr + again.stderr
    assert "Installing Python packages" in first.stderr
    assert again.stderr == ""


def test_static_files_are_collected_when_one_changed_and_only_then(tmp_path):
    project = copy_project(tmp_path / "shop")
    (project / "var" / "static").mkdir(parents=True)
    stub = "count() { echo x >>var/calls; echo {} >var/static/staticfiles.json; }; python=count"
    collect = f"set -eu; . docker/setup.sh; {stub}; collect_static; wc -l <var/calls"
    calls = [sh("-c", collect, cwd=project).stdout.strip() for _ in range(2)]
    sheet = next(project.glob("c*/**/static/**/*.css"))
    sheet.write_text(sheet.read_text() + "/* changed */")
    calls.append(sh("-c", collect, cwd=project).stdout.strip())
    assert calls == ["1", "1", "2"]
