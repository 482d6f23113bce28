"""What a plan says, fixed as plain data."""

import datetime
import json
import zoneinfo
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

import consults.ruleset
from consults.answers.services import answer_into_plan, answer_keep
from consults.cases.casefile import read_case_file
from consults.cases.rows import case_import
from consults.models import Case, RulesetVersion
from consults.plans.services import action_add, action_edit, plan_draft, plan_issue
from consults.plans.snapshot import build_snapshot
from consults.rules.services import ruleset_publish
from consults.ruleset.loader import Ruleset, load_bundled
from garden.bench.tools import all_tools
from garden.reference.loader import load_reference
from tests.consults.plans.making import CAUSES, make_draft, make_wet_case
from tests.factories import make_photo, make_staff

pytestmark = pytest.mark.django_db
BUNDLED = Path(consults.ruleset.__file__).parent / "cases"


def leaves(value: Any, path: str = "") -> Any:
    """Every text in a snapshot with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner, f"{path}[]")
    elif isinstance(value, str):
        yield path, value


MAY_BE_EMPTY = {
    ".actions[].stop_when", ".actions[].waits_for", ".actions[].worked_by",
    ".actions[].quantity_code", ".mixing.tank", ".mixing.aims[].unit", ".mixing.doses_on",
    ".mixing.doses_from",
    ".shopping.lines[].amount", ".shopping.lines[].cost",
    ".calendar.days[].items[].amount", ".calendar.after[].amount",
    ".shop.address", ".shop.phone", ".shop.email", ".shop.opening_hours", ".plan.greeting",
    ".actions[].quantity", ".causes[].laboratory", ".readings[].band_shown", ".photos[].caption",
}  # fmt: skip


def test_the_same_case_twice_gives_the_same_snapshot() -> None:
    plan = make_draft()
    assert build_snapshot(plan) == build_snapshot(type(plan).objects.get(pk=plan.pk))


def test_a_snapshot_is_plain_json_and_comes_back_as_it_was() -> None:
    snapshot = build_snapshot(make_draft())
    assert json.loads(json.dumps(snapshot, allow_nan=False)) == snapshot


def test_nothing_a_snapshot_says_is_empty() -> None:
    plan = make_draft()
    case = plan.case
    case.photos.create(photo=make_photo(case.planting, caption="The lower leaves"))
    snapshot = build_snapshot(plan)
    empty = {path for path, words in leaves(snapshot) if not words.strip()}
    assert empty <= MAY_BE_EMPTY
    for part in ("seen", "not_seen", "practices", "readings", "causes", "next_checks", "actions", "workings",
                 "better", "photos"):  # fmt: skip
        assert snapshot[part], part


@pytest.mark.parametrize("code", sorted(load_bundled().causes))
def test_every_cause_can_be_told_in_a_plan(code: str) -> None:
    snapshot = build_snapshot(make_draft(causes=[code]))
    assert [cause["code"] for cause in snapshot["causes"]] == [code]
    assert {path for path, words in leaves(snapshot) if not words.strip()} <= MAY_BE_EMPTY


def test_it_says_what_is_in_the_plan_and_nothing_else() -> None:
    plan = make_draft()
    snapshot = build_snapshot(plan)
    assert [action["text"] for action in snapshot["actions"]] == [
        action.text for action in plan.actions.all() if action.included
    ]
    assert {cause["code"] for cause in snapshot["causes"]} == set(CAUSES)
    chances = [cause["probability"] for cause in snapshot["causes"]]
    assert chances == sorted(chances, reverse=True)
    assert len(snapshot["cautions"]) == len(set(snapshot["cautions"]))
    assert snapshot["ruleset"] == load_bundled().version
    assert "email" not in snapshot["grower"]


def test_a_working_is_shown_only_while_its_amount_stands_in_the_plan() -> None:
    plan = make_draft()
    line = plan.actions.filter(included=True, quantity_code="watering-interval").get()
    titles = [row["shown"] for row in build_snapshot(plan)["workings"]]
    assert line.quantity in titles
    action_edit(action=line, included=True, when=line.when, text=line.text, quantity="every third day")
    snapshot = build_snapshot(plan)
    assert line.working["shown"] not in [row["shown"] for row in snapshot["workings"]]
    assert "every third day" in [action["quantity"] for action in snapshot["actions"]]


def test_readings_are_said_in_the_growers_units() -> None:
    plan = make_draft(make_wet_case(grower={"name": "N", "units": "us"}))
    row = next(row for row in build_snapshot(plan)["readings"] if row["code"] == "air_temp_c")
    assert (row["shown"], row["unit"]) == ("75.2", "°F")
    assert row["low"] == pytest.approx(21 * 9 / 5 + 32)


def test_it_keeps_to_the_rules_its_ranking_was_made_with() -> None:
    bundled, by = load_bundled(), make_staff()
    plan = make_draft()
    before = build_snapshot(plan)
    tables = json.loads(bundled.to_json())
    for cause in tables["causes"]:
        if cause["code"] == "overwatering":
            cause["name"] = {"en": "Far too much water"}
    newer = Ruleset.from_json(json.dumps(tables))
    ruleset_publish(ruleset=newer, by=by)
    assert newer.version != bundled.version
    assert build_snapshot(plan) == before
    again = plan_draft(case=Case.objects.get(), causes=CAUSES, by=by)
    after = build_snapshot(again)
    assert after["ruleset"] == newer.version
    assert "Far too much water" in [cause["name"] for cause in after["causes"]]
    assert RulesetVersion.objects.count() == 2


def test_a_finding_noted_under_newer_rules_does_not_keep_an_older_plan_from_being_told() -> None:
    plan = make_draft()
    plan.case.findings.create(code="not-in-these-rules", state="present")
    plan.case.practices.create(code="nor-this")
    snapshot = build_snapshot(plan)
    assert "not-in-these-rules" not in json.dumps(snapshot)


def test_a_plan_quotes_five_kinds_of_quantity_each_with_its_working_and_source() -> None:
    casefile = read_case_file(BUNDLED / "walk-in.json", load_reference(), load_bundled())
    case, by = case_import(casefile=casefile), make_staff()
    causes = [
        "overwatering",
        "high-root-zone-ph",
        "high-water-alkalinity",
        "insufficient-light",
        "salt-buildup",
    ]
    plan = plan_draft(case=case, causes=causes, by=by)
    for action in plan.actions.exclude(quantity=""):
        action_edit(
            action=action, included=True, when=action.when, text=action.text, quantity=action.quantity
        )
    fields = all_tools()["watering-oxygen"].fields
    sent = {field.name: f"{field.example}" for field in fields if field.example is not None}
    kept = answer_keep(case=case, tool="watering-oxygen", sent=sent, by=by)
    answer_into_plan(answer=kept, by=by)
    quoted = plan_issue(plan=plan, by=by, send_email=False).snapshot["workings"]
    assert len({row["title"] for row in quoted}) >= 5
    assert all(row["lines"] and row["source"] and row["shown"] for row in quoted)


def test_every_line_says_how_to_know_it_worked_and_when_to_stop() -> None:
    plan = make_draft(causes=["iron-deficiency", "nitrogen-deficiency"])
    action_add(plan=plan, when="today", text="Ring us tonight.")
    snapshot = build_snapshot(plan)
    for action in snapshot["actions"]:
        assert action["worked"] and action["stop"] and action["order"]
        assert not action["worked_by"] or action["when"] != "later", "what has no day yet has no day after"
    assert any(action["waits_for"] for action in snapshot["actions"])


def test_the_calendar_is_plain_data_with_the_days_of_the_shops_own_clock() -> None:
    far_east = zoneinfo.ZoneInfo("Pacific/Kiritimati")
    plan = make_draft()
    with timezone.override(far_east):
        calendar = build_snapshot(plan)["calendar"]
        assert calendar["start"] == datetime.datetime.now(far_east).date().isoformat()
    assert [day["day"] for day in calendar["days"]] == list(range(1, 15))
    done = [item["line"] for day in calendar["days"] for item in day["items"] if item["kind"] == "do"]
    assert len(done) == len(set(done))
    texts = [action["text"] for action in build_snapshot(plan)["actions"]]
    assert all(
        item["text"] == texts[item["line"]]
        for day in calendar["days"]
        for item in day["items"]
        if item["kind"] == "do"
    )
    assert any(item["kind"] == "look" for day in calendar["days"] for item in day["items"])
