"""What the locks, the image and the compose file promise."""

import json
import os
import re
import stat
import subprocess
import sys

import pytest
import yaml

from tests.docker.scratch import ROOT, copy_project, sh

LOCKS = ["requirements.txt", "requirements-test.txt"]
SCRIPTS = ["docker/run.sh", "docker/test.sh", "docker/setup.sh", ".ci/run"]


def pins(lock: str) -> dict[str, str]:
    text = (ROOT / "docker" / lock).read_text().replace("\\\n", " ")
    return dict(
        re.match(r"([\w.\-\[\]]+)==(\S+)", line).groups() for line in text.splitlines() if line.strip()
    )


def dockerfile_steps(instruction: str) -> list[str]:
    text = (ROOT / "docker" / "Dockerfile").read_text().replace("\\\n", " ")
    return [
        line.removeprefix(instruction).strip()
        for line in text.splitlines()
        if line.startswith(instruction + " ")
    ]


@pytest.fixture(scope="module")
def compose() -> dict:
    return yaml.safe_load((ROOT / "docker" / "compose.yaml").read_text())


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_holds_no_address_and_no_option(lock):
    text = (ROOT / "docker" / lock).read_text()
    assert not re.search(r"https?:|://|\bwww\.", text)
    assert not re.search(r"^\s*-(?!-hash=)", text, re.MULTILINE)


@pytest.mark.parametrize("lock", LOCKS)
def test_every_line_of_a_lock_is_one_exact_version_with_hashes(lock):
    text = (ROOT / "docker" / lock).read_text().replace("\\\n", " ")
    for line in filter(None, map(str.strip, text.splitlines())):
        assert re.match(r"[\w.\-\[\]]+==[\w.!+]+( ; [^#]+?)?( +--hash=sha256:[0-9a-f]{64})+$", line), line


def test_the_tests_lock_changes_no_version_of_the_running_tool():
    run, test = (pins(lock) for lock in LOCKS)
    assert run.items() <= test.items()


@pytest.mark.parametrize("script", SCRIPTS)
def test_a_script_is_sound_plain_shell(script):
    checked = subprocess.run(["sh", "-n", ROOT / script], capture_output=True, text=True, check=False)
    assert (checked.returncode, checked.stderr) == (0, "")


def test_the_ci_script_can_be_started_as_it_is():
    assert (ROOT / ".ci" / "run").stat().st_mode & stat.S_IXUSR


def test_the_image_is_pinned_and_runs_as_nobody_in_particular():
    [image] = dockerfile_steps("FROM")
    assert re.fullmatch(r"python:3\.1[123]-slim-\w+", image)
    assert dockerfile_steps("USER")[-1] == "10001:10001"
    assert "docker/health.py" in dockerfile_steps("HEALTHCHECK")[0]


def test_the_steps_of_the_image_run(tmp_path):
    project = copy_project(tmp_path / "image")
    steps = [re.sub(r"^(--\S+\s+)+", "", step) for step in dockerfile_steps("RUN")]
    assert steps
    for step in steps:
        done = sh("-c", step, cwd=project, env={"DATA_DIR": str(tmp_path / "data")})
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "data").is_dir()


def test_the_image_starts_programs_that_the_lock_installs():
    command = json.loads(dockerfile_steps("CMD")[-1])
    assert command[:3] == ["python", "-m", "gunicorn"]
    assert "gunicorn" in pins("requirements.txt")


def test_compose_starts_site_worker_scheduler_database_and_broker(compose):
    assert set(compose["services"]) == {"web", "worker", "scheduler", "postgres", "redis"}
    assert "gunicorn" in compose["services"]["web"]["command"][-1]
    assert compose["services"]["worker"]["command"][2:6] == ["celery", "-A", "consults.project", "worker"]
    assert compose["services"]["scheduler"]["command"][2:6] == ["celery", "-A", "consults.project", "beat"]


def test_compose_pins_what_it_does_not_build(compose):
    images = [service["image"] for service in compose["services"].values() if "build" not in service]
    assert len(images) == 2
    assert all(re.fullmatch(r"[a-z]+:\d+(\.\d+)*", image) for image in images)


def test_compose_holds_no_secret_and_refuses_to_start_without_one(compose):
    for name in ("web", "worker", "scheduler"):
        environment = compose["services"][name]["environment"]
        assert set(environment) == {
            *("DATABASE_URL", "REDIS_URL", "EMAIL_URL", "SECRET_KEY", "ALLOWED_HOSTS", "DATA_DIR"),
            *("DEFAULT_FROM_EMAIL", "SITE_URL"),
        }
        assert environment["SECRET_KEY"] == "${SECRET_KEY:?set SECRET_KEY}"
        for value in ("EMAIL_URL", "DEFAULT_FROM_EMAIL", "ALLOWED_HOSTS"):
            assert environment[value].startswith("${" + value + ":?")
        assert "${POSTGRES_PASSWORD:?" in environment["DATABASE_URL"]


def test_compose_offers_the_site_to_this_machine_only_and_watches_it(compose):
    assert compose["services"]["web"]["ports"] == ["127.0.0.1:8000:8000"]
    assert compose["services"]["web"]["healthcheck"]["test"][-1] == "docker/health.py"
    assert "ports" not in compose["services"]["postgres"]
    assert "ports" not in compose["services"]["redis"]


PRODUCTION = {
    "DJANGO_SETTINGS_MODULE": "consults.project.settings.production",
    "SECRET_KEY": "only-for-tests-" + "x" * 50,
    "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none",
    "REDIS_URL": "redis://127.0.0.1:1/0",
    "EMAIL_URL": "smtp://127.0.0.1:1",
    "DEFAULT_FROM_EMAIL": "plans@bench.example",
    "ALLOWED_HOSTS": "shop.example",
}


def settings_of_production(*, without: str = "") -> subprocess.CompletedProcess[str]:
    """What a process with these settings says its mail comes from, or why it does not start."""
    given = {name: value for name, value in PRODUCTION.items() if name != without}
    return subprocess.run(
        [sys.executable, "-c", "from django.conf import settings; print(settings.DEFAULT_FROM_EMAIL)"],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], "PYTHONDONTWRITEBYTECODE": "1", **given},
        capture_output=True,
        text=True,
        check=False,
    )


def test_production_sends_from_the_address_it_is_given():
    started = settings_of_production()
    assert (started.returncode, started.stdout) == (0, "plans@bench.example\n"), started.stderr


@pytest.mark.parametrize("name", [name for name in PRODUCTION if name != "DJANGO_SETTINGS_MODULE"])
def test_production_does_not_start_half_configured_and_says_what_is_missing(name):
    started = settings_of_production(without=name)
    assert started.returncode != 0
    assert f"Set these before starting: {name} (" in started.stderr


def test_compose_gives_the_site_all_that_production_needs(compose):
    needed = {name for name in PRODUCTION if name != "DJANGO_SETTINGS_MODULE"}
    for name in ("web", "worker", "scheduler"):
        assert needed <= set(compose["services"][name]["environment"])
