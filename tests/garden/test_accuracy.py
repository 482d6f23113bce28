"""The science agrees with the literature, and the table that says so is complete, strict and up to date."""

import json
import subprocess
import sys
from collections import Counter

import pytest
import yaml
from django.core.management import CommandError, call_command

from garden.bench import accuracy
from garden.bench.accuracy import (
    REPORT_FILE,
    counted_by_topic,
    counts_by_status,
    failures,
    report,
    rows_read,
    run_checks,
    short,
)
from garden.bench.checks import load_checks
from garden.reference.files import ReferenceDataError

CHECKS = load_checks()
ROWS = run_checks()
GOOD = {
    "id": "one",
    "topic": "sample",
    "call": "light.dli_mol_m2_d",
    "args": {"ppfd_umol_m2_s": 200.0, "hours": 16.0},
    "expected": 11.52,
    "tolerance": 0.01,
    "unit": "mol/m²/d",
    "source": "A published table, page 1",
    "status": "read",
}


def write(folder, *entries, name="sample"):
    path = folder / f"{name}.yaml"
    path.write_text(yaml.safe_dump(list(entries), allow_unicode=True), encoding="utf-8")
    return folder


def run_one(folder, **changes):
    return run_checks(load_checks(write(folder, {**GOOD, **changes})))[0]


def refusal(folder, *entries):
    with pytest.raises(ReferenceDataError) as caught:
        run_checks(load_checks(write(folder, *entries)))
    assert str(caught.value).endswith(".")
    return caught.value


def test_every_published_value_is_met_within_its_tolerance():
    assert [(row.id, row.expected, row.got) for row in failures(ROWS)] == []


def test_there_are_enough_rows_over_enough_topics():
    topics = counted_by_topic(ROWS)
    assert sum(topics.values()) >= 120
    assert len(topics) >= 12
    assert {topic: count for topic, count in topics.items() if count < 5} == {}


def test_most_of_the_evidence_was_read():
    assert rows_read(ROWS) >= 80
    statuses = counts_by_status(ROWS)
    assert statuses["memory"] + statuses["common-practice"] < rows_read(ROWS) / 5


def test_rows_computed_by_ourselves_are_not_counted():
    computed = [row for row in ROWS if row.status == "computed"]
    assert computed
    assert sum(counted_by_topic(ROWS).values()) == len(ROWS) - len(computed)


def test_no_published_table_carries_the_result_alone():
    tables = Counter(row.source for row in ROWS if row.status != "computed")
    assert {source: count for source, count in tables.items() if count > 15} == {}


def test_tolerances_are_tight():
    loose = [row.id for row in ROWS if row.tolerance > 0.25 * abs(row.expected)]
    # Published as shares or small differences that the source itself gives with this uncertainty.
    assert set(loose) <= {"bedding-cell-air"}


def test_the_committed_table_is_the_fresh_one():
    assert REPORT_FILE.read_text(encoding="utf-8") == report(ROWS), "run manage.py accuracy --write"


def test_the_table_marks_rows_from_memory_and_computed_ones():
    lines = report(ROWS).splitlines()
    for row in ROWS:
        line = next(line for line in lines if line.startswith(f"| {row.id} |"))
        assert ("**from memory**" in line) == (row.status == "memory")
        assert ("not counted" in line) == (row.status == "computed")


def test_the_command_prints_json_rows_without_a_database(capsys):
    call_command("accuracy", "--json")
    rows = json.loads(capsys.readouterr().out)
    assert len(rows) == len(ROWS)
    fields = {"id", "topic", "expected", "got", "tolerance", "ok", "source", "status"}
    assert all(set(row) == fields for row in rows)
    assert all(row["ok"] is True for row in rows)


def test_the_command_prints_a_table_with_the_counts(capsys):
    call_command("accuracy")
    printed = capsys.readouterr().out
    assert all(row.id in printed for row in ROWS)
    assert f"{rows_read(ROWS)} read" in printed


def test_the_command_writes_the_table(tmp_path, monkeypatch, capsys):
    target = tmp_path / "ACCURACY.md"
    monkeypatch.setattr("garden.management.commands.accuracy.REPORT_FILE", target)
    call_command("accuracy", "--write")
    assert target.read_text(encoding="utf-8") == report(ROWS)


def test_the_command_fails_when_a_row_is_outside_and_still_prints_it(monkeypatch, tmp_path, capsys):
    checks = load_checks(write(tmp_path, {**GOOD, "expected": 12.0}))
    monkeypatch.setattr("garden.management.commands.accuracy.run_checks", lambda: run_checks(checks))
    with pytest.raises(CommandError, match="one"):
        call_command("accuracy")
    assert "OUTSIDE" in capsys.readouterr().out


def test_the_command_fails_in_one_sentence_when_a_check_cannot_be_used(monkeypatch, tmp_path):
    checks = load_checks(write(tmp_path, {**GOOD, "call": "light.no_such_thing"}))
    monkeypatch.setattr("garden.management.commands.accuracy.run_checks", lambda: run_checks(checks))
    with pytest.raises(CommandError, match=r"sample\.yaml") as caught:
        call_command("accuracy")
    assert caught.value.returncode == 2


def test_the_checks_run_without_the_web_framework():
    program = (
        "import sys\n"
        "from garden.bench.accuracy import run_checks\n"
        "run_checks()\n"
        "sys.exit('django' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_value_on_the_edge_of_its_tolerance_is_inside_and_just_beyond_it_is_not(tmp_path):
    assert run_one(tmp_path, expected=11.53, tolerance=0.01).ok
    assert not run_one(tmp_path, expected=11.5301, tolerance=0.01).ok


def test_a_result_is_scaled_into_the_unit_of_the_source(tmp_path):
    assert run_one(tmp_path, scale=1000.0).got == pytest.approx(11520)


def test_one_part_of_a_result_is_picked(tmp_path):
    row = run_one(
        tmp_path,
        call="climate.fan_size",
        args={"needed_m3_h": 100.0, "carbon_filter": True},
        pick=["allowances", 0, 1],
        expected=0.25,
    )
    assert row.got == 0.25


def test_an_argument_may_be_a_call_itself(tmp_path):
    inner = {"call": "light.ppfd_for_dli_umol_m2_s", "args": {"dli_mol_m2_d": 11.52, "hours": 16.0}}
    row = run_one(tmp_path, args={"ppfd_umol_m2_s": inner, "hours": 16.0})
    assert row.got == pytest.approx(11.52)


@pytest.mark.parametrize(
    "call",
    [
        "os.getcwd",
        "light.check_range",
        "light._ppfd",
        "light.MAX_PPFD_UMOL_M2_S",
        "light.no_such_thing",
        "reference.load_reference",
    ],
)
def test_only_public_functions_of_the_science_may_be_called(tmp_path, call):
    error = refusal(tmp_path, {**GOOD, "call": call})
    assert (error.file, error.entry, error.field) == ("checks/sample.yaml", "one", "call")
    assert call in str(error)


@pytest.mark.parametrize("part", ["__class__", "_private", "nothing"])
def test_only_parts_that_are_there_and_public_may_be_picked(tmp_path, part):
    entry = {**GOOD, "call": "climate.fan_size", "args": {"needed_m3_h": 100.0}, "pick": part}
    assert refusal(tmp_path, entry).field == "pick"


def test_a_result_that_is_not_one_number_is_refused(tmp_path):
    error = refusal(tmp_path, {**GOOD, "call": "climate.fan_size", "args": {"needed_m3_h": 100.0}})
    assert (error.field, "Fan" in str(error)) == ("pick", True)


@pytest.mark.parametrize("args", [{"ppfd": 200.0, "hours": 16.0}, {"ppfd_umol_m2_s": 200.0, "hours": 30.0}])
def test_arguments_that_are_refused_are_named(tmp_path, args):
    assert refusal(tmp_path, {**GOOD, "args": args}).field == "args"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"status": "heard"}, "status"),
        ({"tolerance": 0}, "tolerance"),
        ({"tolerance": -1}, "tolerance"),
        ({"expected": "about 12"}, "expected"),
        ({"expected": float("nan")}, "expected"),
        ({"source": "a book"}, "source"),
        ({"id": "Not A Code"}, "id"),
        ({"call": "dli"}, "call"),
        ({"topic": "other"}, "topic"),
        ({"tolerence": 0.1}, "tolerence"),
    ],
)
def test_a_slip_in_a_check_is_named_by_file_entry_and_field(tmp_path, change, field):
    entry = {**GOOD, **change}
    error = refusal(tmp_path, entry)
    assert (error.file, error.entry, error.field) == ("checks/sample.yaml", entry["id"], field)


@pytest.mark.parametrize("field", ["source", "status", "tolerance", "expected", "call"])
def test_a_missing_field_is_named(tmp_path, field):
    error = refusal(tmp_path, {key: value for key, value in GOOD.items() if key != field})
    assert error.field == field
    assert "missing" in str(error)


def test_a_name_used_in_two_files_is_refused(tmp_path):
    write(tmp_path, {**GOOD, "topic": "first"}, name="first")
    error = refusal(tmp_path, GOOD)
    assert error.field == "id"
    assert "checks/first.yaml" in str(error)


@pytest.mark.parametrize(
    ("value", "written"), [(1 / 3, "0.33333"), (123456.0, "1.2346e+05"), (-0.0, "0"), (5.0, "5")]
)
def test_numbers_are_written_alike_on_every_machine(value, written):
    assert short(value) == written


def test_every_module_of_the_science_can_be_checked():
    assert {"air", "light", "feed", "watering"} <= set(accuracy._modules())
