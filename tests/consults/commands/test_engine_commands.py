"""`manage.py calibration` and `manage.py interview`."""

import json
from importlib import import_module
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from django.core.management import CommandError, call_command

import consults.ruleset
from consults.ruleset.halves import half_of
from consults.ruleset.loader import load_bundled

CASE = str(Path(consults.ruleset.__file__).parent / "cases" / "limp-light-pot.json")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    call_command(*arguments)
    return capsys.readouterr().out


# --- calibration ----------------------------------------------------------------------------------
def test_calibration_tells_bins_and_brier_score_and_repeats_with_its_seed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    first, again = (run(capsys, "calibration", "--simulate", "30", "--seed", "5", "--json") for _ in range(2))
    assert first == again
    told: dict[str, Any] = json.loads(first)
    assert set(told) == {"ruleset", "hidden", "cases", "seed", "bins", "brier", "brier_prior"}
    assert told["ruleset"] == load_bundled().version
    assert sum(part["count"] for part in told["bins"]) == 30 * len(load_bundled().causes)
    assert set(told["bins"][0]) == {
        "low", "high", "count", "expected", "observed", "observed_low", "observed_high",
    }  # fmt: skip
    assert 0 < told["brier"] < told["brier_prior"]


def test_calibration_writes_its_plot_and_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [tmp_path / "one.svg", tmp_path / "two.svg"]
    for file in files:
        told = run(capsys, "calibration", "--simulate", "20", "--out", str(file))
    assert "Brier score 0.0" in told and told.startswith("said")
    assert files[0].read_text() == files[1].read_text()
    svg = ET.fromstring(files[0].read_text())
    title = svg.find("{http://www.w3.org/2000/svg}title")
    assert title is not None and title.text == "How often what was said came true in 20 drawn cases"


def test_calibration_says_when_its_plot_cannot_be_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        call_command("calibration", "--simulate", "1", "--out", str(tmp_path / "none" / "a.svg"))
    assert stopped.value.code == 2
    assert "No such file" in capsys.readouterr().err


@pytest.mark.parametrize(
    "wrong", [("--simulate", "0"), ("--simulate", "x"), ("--seed", "-1"), ("--seed", "½")]
)
def test_calibration_refuses_what_is_no_number(wrong: tuple[str, str]) -> None:
    with pytest.raises(CommandError, match="whole number"):
        call_command("calibration", *wrong)


# --- interview ------------------------------------------------------------------------------------
def test_interview_prints_the_next_question(capsys: pytest.CaptureFixture[str]) -> None:
    words = run(capsys, "interview", CASE)
    assert CASE in words
    told = json.loads(run(capsys, "interview", CASE, "--json"))
    assert told["case"] == CASE
    assert ("question" in told) != ("ended" in told)


def test_a_simulated_interview_tells_its_questions_and_whether_it_agrees(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = json.loads(run(capsys, "interview", CASE, "--simulate", "--json"))
    assert set(told) == {"case", "questions", "asked", "ended", "first", "checklist_first", "agrees"}
    assert told["asked"] == len(told["questions"])
    assert told["agrees"] == (told["first"] == told["checklist_first"])
    assert told["ended"] in {"settled", "nothing-left", "too-long"}
    for question in told["questions"]:
        assert set(question) == {"kind", "code", "way", "minutes", "bits", "changes", "protects"}
    words = run(capsys, "interview", CASE, "--simulate")
    assert f"  {told['asked']} questions, then {told['ended']}" in words


def test_several_interviews_end_with_the_median_number_of_questions(
    capsys: pytest.CaptureFixture[str],
) -> None:
    lines = run(capsys, "interview", "--draw", "2", "--seed", "3", "--json").splitlines()
    told = [json.loads(line) for line in lines]
    assert [line.get("case") for line in told] == ["drawn-1", "drawn-2", None]
    summary = told[-1]["summary"]
    assert summary["cases"] == 2
    assert summary["median_questions"] == (told[0]["asked"] + told[1]["asked"]) / 2
    assert summary["agreement"] == (told[0]["agrees"] + told[1]["agrees"]) / 2
    assert 0 <= summary["right"] <= 1 and 0 <= summary["checklist_right"] <= 1


def test_interview_needs_a_case_and_names_a_bad_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(CommandError, match="Name a case file"):
        call_command("interview")
    bad = tmp_path / "bad.json"
    bad.write_text("{}")
    with pytest.raises(SystemExit) as stopped:
        call_command("interview", str(bad), "--simulate")
    assert stopped.value.code == 2
    assert f"{bad}: case_file" in capsys.readouterr().err


def test_interviews_of_all_bundled_cases_do_not_show_the_unseen_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module = import_module("consults.management.commands.interview")
    unseen = next(f"case-{n}" for n in range(99) if half_of(f"case-{n}") == "unseen")
    for folder, name in (("cases", unseen), ("reference_cases", unseen + "-b"), ("reference_cases", "x")):
        (tmp_path / folder).mkdir(exist_ok=True)
        (tmp_path / folder / f"{name}.json").write_text(Path(CASE).read_text())
    monkeypatch.setattr(module, "BUNDLED", tmp_path)
    told = [json.loads(line) for line in run(capsys, "interview", "--bundled", "--json").splitlines()]
    shown = {line["case"] for line in told if "case" in line}
    judged = {unseen + "-b", "x"}
    assert shown == {unseen, *(name for name in judged if half_of(name) == "seen")}
    assert told[-1]["summary"]["cases"] == 3
