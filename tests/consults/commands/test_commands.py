"""The commands that need no database: what they print, and how they end."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import consults.ruleset
from consults.cases.casefile import CaseFile
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference

ROOT = Path(__file__).resolve().parents[3]
CASES = Path(consults.ruleset.__file__).parent / "cases"
WET, IRON = str(CASES / "daily-watered-pots.json"), str(CASES / "new-leaves-yellow-high-ph.json")


def manage(*arguments: str, tmp_path: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, with no database, no Redis and an empty data folder."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "PYTHONDONTWRITEBYTECODE": "1",
            "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none",
            "REDIS_URL": "redis://127.0.0.1:1/0",
            "DATA_DIR": str(tmp_path / "data"),
            "DJANGO_SETTINGS_MODULE": "consults.project.settings.local",
            **environment,
        },
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def bad_file(tmp_path: Path, name: str, content: str | bytes) -> str:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return str(path)


# --- diagnose -------------------------------------------------------------------------------------
def test_diagnose_gives_one_json_object_a_line_in_order_and_goes_on_after_a_bad_file(tmp_path: Path) -> None:
    unknown = bad_file(tmp_path, "a.json", '{"case_file": 1, "planting": {"crop": "okra"}}')
    broken = bad_file(tmp_path, "b.json", b"\xff\xfe")
    missing = str(tmp_path / "none.json")
    bomb = bad_file(tmp_path, "c.json", "[" * 300_000)
    odd = bad_file(tmp_path, "d.json", '{"case_file": 1, "planting": {"crop": "basil"}, "x\\ud800": 1}')
    files = [WET, unknown, broken, missing, bomb, odd, IRON]
    done = manage("diagnose", *files, "--json", tmp_path=tmp_path)
    assert done.returncode == 2
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["file"] for line in lines] == files
    assert [set(line) == {"file", "error"} for line in lines] == [False, True, True, True, True, True, False]
    for line in lines[1:6]:
        assert set(line["error"]) == {"field", "message"}
        assert line["error"]["field"] and line["error"]["message"]
    assert lines[1]["error"]["field"] == "planting.profile"
    assert "generic-ornamental" in lines[1]["error"]["message"]
    assert set(lines[0]) == {
        "file", "ruleset", "exact", "error_bound", "fit", "enough_to_tell", "causes", "combinations",
        "next_checks",
    }  # fmt: skip
    assert lines[0]["causes"][0]["code"] == "overwatering"
    assert {cause["code"] for cause in lines[-1]["causes"][:2]} == {"iron-deficiency", "high-root-zone-ph"}
    assert "Traceback" not in done.stderr
    assert all(name in done.stderr for name in ("a.json: planting.profile: ", "none.json: file: "))


def test_diagnose_ends_with_0_and_says_nothing_on_stderr_when_every_file_was_good(tmp_path: Path) -> None:
    done = manage("diagnose", WET, "--json", tmp_path=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) == 1


def test_diagnose_gives_the_same_answer_every_time(tmp_path: Path) -> None:
    first, second = (
        manage("diagnose", WET, IRON, "--json", tmp_path=tmp_path, PYTHONHASHSEED=seed) for seed in ("1", "2")
    )
    assert first.stdout == second.stdout


def test_diagnose_in_words_names_causes_with_reasons_and_the_next_look(tmp_path: Path) -> None:
    done = manage("diagnose", WET, tmp_path=tmp_path)
    assert done.returncode == 0
    lines = done.stdout.splitlines()
    assert lines[0] == WET
    assert lines[1].startswith("  1. Overwatering: 0.")
    assert "; for: " in lines[1]
    assert lines[2].startswith("  2. ") and lines[3].startswith("  3. ")
    assert any(line.startswith("  Look next: ") for line in lines)


def test_diagnose_in_words_puts_problems_on_stderr_only(tmp_path: Path) -> None:
    done = manage("diagnose", bad_file(tmp_path, "a.json", "{}"), tmp_path=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "a.json: case_file: This field is needed." in done.stderr


def test_top_cuts_only_the_causes(tmp_path: Path) -> None:
    whole = json.loads(manage("diagnose", WET, "--json", tmp_path=tmp_path).stdout)
    cut = json.loads(manage("diagnose", WET, "--json", "--top", "2", tmp_path=tmp_path).stdout)
    assert cut == {**whole, "causes": whole["causes"][:2]}
    words = manage("diagnose", WET, "--top", "1", tmp_path=tmp_path).stdout
    assert "  1. " in words and "  2. " not in words


@pytest.mark.parametrize(
    "arguments",
    [("diagnose",), ("diagnose", WET, "--top", "0"), ("diagnose", WET, "--top", "-3"),
     ("diagnose", WET, "--top", "x"), ("diagnose", WET, "--ruleset", "mine"),
     ("diagnose", WET, "--no-such-option"), ("vocabulary", "--xml")],
)  # fmt: skip
def test_wrong_usage_ends_with_2_and_a_plain_message(arguments: tuple[str, ...], tmp_path: Path) -> None:
    done = manage(*arguments, tmp_path=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "usage: " in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "command", ["diagnose", "vocabulary", "casefile-schema", "check-reference", "consult", "demo"]
)
def test_every_command_explains_itself(command: str, tmp_path: Path) -> None:
    done = manage(command, "--help", tmp_path=tmp_path)
    assert done.returncode == 0
    assert "usage: manage.py" in done.stdout


# --- vocabulary -----------------------------------------------------------------------------------
def test_the_vocabulary_holds_every_code_with_what_is_published_about_it(tmp_path: Path) -> None:
    done = manage("vocabulary", "--json", tmp_path=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    content = json.loads(done.stdout)
    rules, reference = load_bundled(), load_reference()
    assert content["ruleset"] == rules.version
    fields = {
        "causes": {"code", "name", "group", "definition", "aliases"},
        "findings": {"code", "name", "part", "leaf_age", "distribution", "definition", "synonyms"},
        "practices": {"code", "name", "definition"},
        "readings": {"code", "name", "unit", "min", "max"},
        "crops": {"code", "name"}, "stages": {"code", "name"}, "systems": {"code", "name"},
        "media": {"code", "name"}, "lamps": {"code", "name"}, "profiles": {"code", "name"},
    }  # fmt: skip
    assert set(content) == {"ruleset", *fields}
    for kind, names in fields.items():
        assert content[kind], kind
        assert all(set(entry) == names for entry in content[kind]), kind
        assert all(entry["name"] and isinstance(entry["name"], str) for entry in content[kind]), kind
        assert len({entry["code"] for entry in content[kind]}) == len(content[kind]), kind
    assert {c["code"] for c in content["causes"]} == {*rules.causes, "none-of-these"}
    assert {f["code"] for f in content["findings"]} == set(rules.findings)
    assert {p["code"] for p in content["practices"]} == set(rules.practices)
    assert {r["code"] for r in content["readings"]} == {
        c for c, r in reference.readings.items() if not r.derived
    }
    assert {c["code"] for c in content["crops"]} | {p["code"] for p in content["profiles"]} == set(
        reference.crops
    )


def test_the_published_cause_codes_exist(tmp_path: Path) -> None:
    words = manage("vocabulary", tmp_path=tmp_path).stdout.split()
    for code in (
        "overwatering", "underwatering", "nitrogen-deficiency", "iron-deficiency", "high-root-zone-ph",
        "salt-buildup", "heat-stress", "low-humidity", "excess-light", "insufficient-light", "none-of-these",
    ):  # fmt: skip
        assert code in words


# --- the schema -----------------------------------------------------------------------------------
def schema(tmp_path: Path) -> dict[str, Any]:
    done = manage("casefile-schema", tmp_path=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    content: dict[str, Any] = json.loads(done.stdout)
    return content


def fits(value: Any, rule: dict[str, Any], whole: dict[str, Any]) -> bool:
    """The part of JSON Schema that the published schema uses."""
    if "$ref" in rule:
        return fits(value, whole["$defs"][rule["$ref"].rsplit("/", 1)[1]], whole)
    if "anyOf" in rule:
        return any(fits(value, option, whole) for option in rule["anyOf"])
    if "const" in rule and value != rule["const"]:
        return False
    if "enum" in rule and value not in rule["enum"]:
        return False
    kinds = {
        "object": dict,
        "array": list,
        "string": str,
        "integer": int,
        "number": (int, float),
        "null": type(None),
    }
    if "type" in rule and not isinstance(value, kinds[rule["type"]]):
        return False
    if isinstance(value, dict):
        known = rule.get("properties", {})
        extra = rule.get("additionalProperties", True)
        return set(rule.get("required", [])) <= set(value) and all(
            fits(inner, known[key], whole) if key in known
            else fits(inner, extra, whole) if isinstance(extra, dict)
            else extra
            for key, inner in value.items()
        )  # fmt: skip
    if isinstance(value, list):
        return all(fits(inner, rule.get("items", {}), whole) for inner in value)
    if isinstance(value, int | float):
        return not (
            value < rule.get("minimum", value) or value > rule.get("maximum", value)
            or ("exclusiveMinimum" in rule and value <= rule["exclusiveMinimum"])
        )  # fmt: skip
    return True


def test_the_schema_accepts_every_bundled_case_and_refuses_what_is_not_in_it(tmp_path: Path) -> None:
    whole = schema(tmp_path)
    assert whole["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    objects = [whole, *whole["$defs"].values()]
    assert all(part["additionalProperties"] is False for part in objects if part.get("type") == "object")
    for path in sorted(CASES.glob("*.json")):
        case = json.loads(path.read_text(encoding="utf-8"))
        assert fits(case, whole, whole), path
        assert CaseFile.model_validate(case)
        assert not fits({**case, "colour": "green"}, whole, whole)
        assert not fits({**case, "planting": {**case["planting"], "pot": 1}}, whole, whole)
        assert not fits({**case, "case_file": 2}, whole, whole)
        assert not fits({**case, "onset_days": -1}, whole, whole)
        assert not fits({key: value for key, value in case.items() if key != "planting"}, whole, whole)


# --- check-reference ------------------------------------------------------------------------------
def test_check_reference_counts_every_data_file(tmp_path: Path) -> None:
    done = manage("check-reference", tmp_path=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    lines = [line.strip().split(" ", 1) for line in done.stdout.splitlines()]
    assert lines[-1] == ["rules", load_bundled().version]
    counts = {name: int(count) for count, name in lines[:-1]}
    assert counts["causes"] == len(load_bundled().causes)
    assert counts["findings"] == len(load_bundled().findings)
    assert all(count > 0 for count in counts.values())


def test_diagnose_reads_the_story_only_when_asked(tmp_path: Path) -> None:
    file = tmp_path / "case.json"
    content = {"case_file": 1, "planting": {"crop": "basil"}, "story": "There is a white crust on the pot."}
    file.write_text(json.dumps(content))
    plain = manage("diagnose", str(file), "--json", tmp_path=tmp_path)
    read = manage("diagnose", str(file), "--json", "--read-story", tmp_path=tmp_path)
    assert plain.stdout != read.stdout
    assert json.loads(read.stdout)["causes"][0]["code"] == "salt-buildup"
