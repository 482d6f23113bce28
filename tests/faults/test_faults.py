"""A few of the faults, with real servers and real deaths; all of them: `python -m tests.faults`."""

import json
import os
import subprocess
import sys

import pytest

from tests.faults.machines import ROOT


@pytest.fixture(scope="module")
def scenes() -> dict:
    command = ["-m", "tests.faults", "--json", "--only", "after-claim,after-250,redis lost"]
    kept = ("PATH", "TMPDIR", "LD_LIBRARY_PATH", "HOME")
    done = subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={name: os.environ[name] for name in kept if name in os.environ},
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
    )
    assert done.stdout, done.stderr
    print(done.stderr)  # shown when a test fails
    return json.loads(done.stdout)["scenes"]


def test_a_worker_that_dies_with_a_message_in_hand_loses_nothing_and_sends_nothing_twice(
    scenes: dict,
) -> None:
    scene = scenes["after-claim"]
    assert (scene["kills"], scene["lost"], scene["twice"]) == (1, 0, 0)


def test_a_worker_that_dies_between_the_server_s_250_and_the_mark_sends_that_one_twice(scenes: dict) -> None:
    scene = scenes["after-250"]
    assert (scene["lost"], scene["twice"], scene["unexplained"]) == (0, 1, 0)


def test_losing_all_that_redis_held_loses_no_message(scenes: dict) -> None:
    scene = scenes["redis lost whole"]
    assert scene["written_without_redis"] == 20
    assert (scene["rows"], scene["lost"], scene["twice"]) == (30, 0, 0)
