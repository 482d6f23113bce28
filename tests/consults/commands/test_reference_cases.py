"""`manage.py reference-cases`: what it says about each half, and what it keeps to itself."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from consults.ruleset.halves import half_of

PLANTING = {"crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot"}
UNSEEN = next(f"case-{n}" for n in range(99) if half_of(f"case-{n}") == "unseen")
SEEN = next(f"case-{n}" for n in range(99) if half_of(f"case-{n}") == "seen")


def write(folder: Path, case_id: str, expected: list[str], **more: Any) -> None:
    content = {"case_file": 1, "planting": PLANTING, "present": ["wilting-medium-dry"], **more}
    content["expected"] = {"causes": expected, "source": "common practice, no source: made for the test"}
    (folder / f"{case_id}.json").write_text(json.dumps(content))


def run(folder: Path, capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    call_command("reference-cases", "--folder", str(folder), *arguments)
    return capsys.readouterr().out


def test_json_holds_both_halves_and_every_failure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path, SEEN, ["underwatering"])
    write(tmp_path, UNSEEN, ["aphids"])
    told = json.loads(run(tmp_path, capsys, "--json"))
    assert set(told) == {"halves", "failures"}
    good = {"n": 1, "top1": 1.0, "top3": 1.0, "two_cause_recall": None}
    assert told["halves"]["seen"] == good
    assert told["halves"]["unseen"] == {**good, "top1": 0.0, "top3": 0.0}
    (failure,) = told["failures"]
    assert (failure["id"], failure["half"], failure["expected"]) == (UNSEEN, "unseen", ["aphids"])
    assert len(failure["ranked"]) == 5
    assert failure["ranked"][0]["code"] == "underwatering"
    assert 0 < failure["ranked"][0]["probability"] < 1


def test_text_details_the_seen_half_and_only_counts_the_unseen_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for case_id in (SEEN, UNSEEN):
        write(tmp_path, case_id, ["aphids"])
    told = run(tmp_path, capsys)
    assert f"  {SEEN}: expected aphids; ranked underwatering" in told
    assert UNSEEN not in told
    assert told.count("1 not as expected") == 2
    assert UNSEEN in run(tmp_path, capsys, "--half", "unseen")
    assert SEEN not in run(tmp_path, capsys, "--half", "unseen")


def test_one_half_alone_leaves_the_other_empty(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path, SEEN, ["underwatering"])
    write(tmp_path, UNSEEN, ["underwatering"])
    told = json.loads(run(tmp_path, capsys, "--json", "--half", "seen"))
    assert (told["halves"]["seen"]["n"], told["halves"]["unseen"]["n"]) == (1, 0)


def test_an_empty_or_missing_folder_is_said_and_is_no_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, capsys).strip() == "There is no reference case to rank."
    assert json.loads(run(tmp_path / "none", capsys, "--json"))["failures"] == []


def test_a_case_that_expects_nothing_is_not_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(tmp_path, SEEN, [])
    assert run(tmp_path, capsys).strip() == "There is no reference case to rank."


def test_a_file_that_cannot_be_used_is_named_and_ends_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / f"{SEEN}.json").write_text("{}")
    write(tmp_path, UNSEEN, ["underwatering"])
    with pytest.raises(SystemExit) as stopped:
        call_command("reference-cases", "--folder", str(tmp_path))
    assert stopped.value.code == 2
    told = capsys.readouterr()
    assert f"{SEEN}.json: case_file" in told.err
    assert "unseen     1 cases" in told.out
