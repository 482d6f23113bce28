"""Drafting, editing, issuing: what is issued never changes, and the next version stands beside it."""

import datetime
import threading
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, connection, connections, transaction
from django.utils import timezone

from consults.cases.facts import gather
from consults.cases.rows import casefile_from_rows
from consults.cases.services import case_confirm, case_reopen, case_tell, finding_record
from consults.choices import CaseStatus, PlanStatus
from consults.errors import DeskError
from consults.models import Case, FollowUp, Plan, PlanAction, Ranking
from consults.plans.building import applies
from consults.plans.services import (
    action_add,
    action_edit,
    follow_up_record,
    plan_draft,
    plan_issue,
    plan_revise,
    plan_tell,
    snapshot_hash,
)
from consults.ruleset.loader import load_bundled
from garden.access import Role
from garden.reference.loader import load_reference
from reports.models import Message
from tests.consults.plans.making import CAUSES, make_draft, make_issued, make_wet_case
from tests.factories import make_staff

pytestmark = pytest.mark.django_db


# --- drafting -------------------------------------------------------------------------------------
def test_a_draft_holds_the_actions_of_the_chosen_causes_with_amounts_for_this_garden() -> None:
    plan = make_draft()
    assert (plan.status, plan.version, plan.causes) == (PlanStatus.DRAFT, 1, CAUSES)
    lines = {action.code: action for action in plan.actions.all()}
    actions = [action for code in CAUSES for action in load_bundled().causes[code].actions]
    facts = gather(casefile_from_rows(plan.case), load_reference())
    asked = {action.code for action in actions if applies(action, facts)}
    assert set(lines) == asked
    interval = next(a for a in lines.values() if a.quantity_code == "watering-interval")
    assert interval.quantity == interval.working["shown"]
    assert "day" in interval.quantity
    assert plan.ranking is not None
    assert plan.ranking.result["ruleset"] == load_bundled().version
    assert plan.ranking.inputs["present"] == sorted(plan.ranking.inputs["present"])
    assert plan.look_again_on is not None and plan.look_again_on > timezone.localdate()


def test_a_draft_of_a_us_grower_speaks_in_us_units() -> None:
    plan = make_draft(make_wet_case(grower={"name": "N", "units": "us"}))
    interval = plan.actions.get(quantity_code="watering-interval")
    assert "pounds" in interval.quantity or "ounces" in interval.quantity


@pytest.mark.parametrize(
    ("causes", "says"), [([], "at least one cause"), (["overwatering", "gone"], "Reload")]
)
def test_a_draft_needs_causes_that_the_rules_know(causes: list[str], says: str) -> None:
    with pytest.raises(DeskError, match=says):
        plan_draft(case=make_wet_case(), causes=causes, by=make_staff())
    assert not Plan.objects.exists()
    assert not Ranking.objects.exists()


def test_building_again_changes_the_same_draft() -> None:
    case, by = make_wet_case(), make_staff()
    first = make_draft(case, by)
    again = plan_draft(case=case, causes=["iron-deficiency"], by=by)
    assert again.pk == first.pk
    assert {tuple(a.causes) for a in again.actions.all()} == {("iron-deficiency",)}


def test_lines_edited_by_hand_survive_building_again() -> None:
    case, by = make_wet_case(), make_staff()
    plan = make_draft(case, by)
    ours = plan.actions.order_by("position")[0]
    action_edit(action=ours, included=True, when="later", text="Our own words.", quantity="two cups")
    added = action_add(plan=plan, when="today", text="Ring us tonight.")
    untouched = plan.actions.filter(edited=False).first()
    assert untouched is not None
    finding_record(case=case, code="fungus-gnats", state="present")
    plan_draft(case=case, causes=CAUSES, by=by)
    kept = plan.actions.get(code=ours.code)
    assert (kept.when, kept.text, kept.quantity, kept.edited) == ("later", "Our own words.", "two cups", True)
    assert plan.actions.get(pk=added.pk).text == "Ring us tonight."
    assert not PlanAction.objects.filter(pk=untouched.pk).exists(), "what nobody touched is written anew"
    assert plan.actions.filter(code=untouched.code).count() == 1


def test_saving_a_line_as_it_was_does_not_count_as_editing() -> None:
    action = make_draft().actions.all()[0]
    action_edit(
        action=action, included=action.included, when=action.when, text=action.text, quantity=action.quantity
    )
    assert PlanAction.objects.get(pk=action.pk).edited is False


def test_own_lines_stand_at_the_end_and_words_are_kept() -> None:
    plan = make_draft()
    added = action_add(plan=plan, when="today", text="Ring us tonight.", quantity="before eight")
    assert [a.pk for a in plan.actions.all()][-1] == added.pk
    day = timezone.localdate() + datetime.timedelta(days=5)
    plan_tell(plan=plan, greeting="Chin up.", look_again_on=day)
    plan.refresh_from_db()
    assert (plan.greeting, plan.look_again_on) == ("Chin up.", day)


# --- issuing --------------------------------------------------------------------------------------
def test_issuing_fixes_the_snapshot_and_notes_the_look_and_the_case() -> None:
    by, case = make_staff(), make_wet_case()
    plan = make_issued(case, by)
    plan.refresh_from_db()
    assert (plan.status, plan.issued_by) == (PlanStatus.ISSUED, by)
    assert plan.snapshot is not None
    assert plan.snapshot_sha256 == snapshot_hash(plan.snapshot)
    assert plan.snapshot["plan"]["draft"] is False
    assert plan.follow_up.due_on == plan.look_again_on
    case.refresh_from_db()
    assert case.status == CaseStatus.PLANNED
    assert not Message.objects.exists(), "nobody asked for an email"


def test_what_changes_in_the_case_afterwards_does_not_change_the_issued_plan() -> None:
    plan = make_issued()
    before = plan.snapshot
    finding_record(case=plan.case, code="fungus-gnats", state="present")
    plan.case.grower.name = "Somebody Else"
    plan.case.grower.save()
    plan.refresh_from_db()
    assert plan.snapshot == before


def refused(sql: str, values: list[Any]) -> None:
    with (
        pytest.raises(IntegrityError, match="an issued plan never changes"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql, values)


@pytest.mark.parametrize(
    ("column", "value"),
    [("greeting", "another"), ("snapshot_sha256", "0" * 64), ("snapshot", "{}"), ("version", 9),
     ("causes", "[]"), ("status", "draft"), ("look_again_on", "2001-01-01"),
     ("issued_at", "2001-01-01 00:00:00+00:00")],
)  # fmt: skip
def test_the_database_itself_refuses_to_change_an_issued_plan(column: str, value: Any) -> None:
    plan = make_issued()
    refused(f"UPDATE consults_plan SET {column} = %s WHERE id = %s", [value, plan.pk])


def test_the_database_itself_refuses_to_change_who_issued_and_by_which_ranking() -> None:
    plan, other = make_issued(), make_draft(make_wet_case(story="another"))
    refused("UPDATE consults_plan SET issued_by_id = %s WHERE id = %s", [make_staff().pk, plan.pk])
    refused("UPDATE consults_plan SET ranking_id = %s WHERE id = %s", [other.ranking_id, plan.pk])


@pytest.mark.parametrize(
    ("column", "value"),
    [("text", "Pour in acid."), ("quantity", "9 litres"), ("included", False), ("edited", True)],
)
def test_the_database_itself_refuses_to_change_the_actions_of_an_issued_plan(column: str, value: Any) -> None:
    plan = make_issued()
    refused(f"UPDATE consults_planaction SET {column} = %s WHERE plan_id = %s", [value, plan.pk])
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        plan.actions.update(**{column: value})


def test_the_database_itself_refuses_to_add_an_action_to_an_issued_plan_or_to_take_one_out() -> None:
    issued, other = make_issued(), make_draft(make_wet_case(story="another"))
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        PlanAction.objects.create(plan=issued, position=1, when="today", text="More.")
    moved = "UPDATE consults_planaction SET plan_id = %s, code = '' WHERE plan_id = %s"
    refused(moved, [issued.pk, other.pk])
    refused(moved, [other.pk, issued.pk])


def test_a_draft_can_be_changed_by_the_same_statements() -> None:
    plan = make_draft()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE consults_plan SET greeting = 'Hello' WHERE id = %s", [plan.pk])
        cursor.execute("UPDATE consults_planaction SET text = 'Dry it.' WHERE plan_id = %s", [plan.pk])
    assert set(plan.actions.values_list("text", flat=True)) == {"Dry it."}


def test_the_services_refuse_to_change_an_issued_plan_in_words() -> None:
    plan = make_issued()
    action = plan.actions.all()[0]
    for change in (
        lambda: action_edit(action=action, included=False, when="later", text="x", quantity=""),
        lambda: action_add(plan=plan, when="today", text="x"),
        lambda: plan_tell(plan=plan, greeting="x", look_again_on=None),
        lambda: plan_issue(plan=plan, by=make_staff(), send_email=False),
    ):
        with pytest.raises(DeskError, match=r"never changes\. Make the next version instead"):
            change()


def test_a_plan_without_an_action_is_not_issued() -> None:
    plan = make_draft()
    plan.actions.update(included=False)
    with pytest.raises(DeskError, match="no action yet"):
        plan_issue(plan=plan, by=make_staff(), send_email=False)
    assert Plan.objects.get().is_draft


def test_two_lines_that_contradict_each_other_are_not_issued_together() -> None:
    plan = make_draft()
    first, second = plan.actions.filter(included=True)[:2]
    second.opposes = [first.code]
    second.save()
    with pytest.raises(DeskError, match="contradict each other, keep one") as refusal:
        plan_issue(plan=plan, by=make_staff(), send_email=False)
    assert first.text in str(refusal.value) and second.text in str(refusal.value)
    assert Plan.objects.get().is_draft
    action_edit(action=first, included=False, when=first.when, text=first.text, quantity=first.quantity)
    assert not plan_issue(plan=plan, by=make_staff(), send_email=False).is_draft


def test_the_counter_neither_drafts_nor_issues_nor_makes_the_next_version() -> None:
    counter, case = make_staff(Role.COUNTER), make_wet_case()
    with pytest.raises(PermissionDenied, match="prepare a plan"):
        plan_draft(case=case, causes=CAUSES, by=counter)
    plan = make_draft(case)
    with pytest.raises(PermissionDenied, match="issue and send a plan"):
        plan_issue(plan=plan, by=counter, send_email=False)
    assert Plan.objects.get().is_draft
    plan_issue(plan=plan, by=make_staff(), send_email=False)
    with pytest.raises(PermissionDenied):
        plan_revise(plan=plan, by=counter)


def test_with_consent_the_mail_waits_in_the_outbox() -> None:
    plan = make_issued(make_wet_case(consent=True), send_email=True)
    assert Message.objects.get().plan == plan


@pytest.mark.parametrize(("grower", "says"), [
    ({"name": "Nela", "email": "nela@home.example"}, "has not agreed to be emailed"),
    ({"name": "Nela"}, "has no email address"),
])  # fmt: skip
def test_without_consent_or_address_nothing_is_issued(grower: dict[str, str], says: str) -> None:
    case = make_wet_case(grower=grower)
    plan = make_draft(case)
    with pytest.raises(DeskError, match=says):
        plan_issue(plan=plan, by=make_staff(), send_email=True)
    plan = Plan.objects.get()
    assert plan.is_draft and plan.snapshot is None and plan.issued_at is None
    assert not FollowUp.objects.exists()
    assert not Message.objects.exists()
    assert Case.objects.get().status == CaseStatus.OPEN


# --- the next version -----------------------------------------------------------------------------
def test_a_change_becomes_version_two_and_version_one_stays_as_it_was() -> None:
    by = make_staff()
    first = make_issued(by=by)
    before = (first.snapshot, first.snapshot_sha256)
    second = plan_revise(plan=first, by=by)
    assert (second.version, second.is_draft, second.causes) == (2, True, first.causes)
    assert [a.text for a in second.actions.all()] == [a.text for a in first.actions.all()]
    line = second.actions.filter(included=True)[0]
    action_edit(action=line, included=True, when=line.when, text="Better words.", quantity=line.quantity)
    plan_issue(plan=second, by=by, send_email=False)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.snapshot, first.snapshot_sha256) == before
    assert second.snapshot is not None and second.snapshot["plan"]["supersedes"] == 1
    assert "Better words." in [action["text"] for action in second.snapshot["actions"]]
    assert second.snapshot_sha256 != first.snapshot_sha256


def test_asking_twice_for_the_next_version_gives_one_draft() -> None:
    first = make_issued()
    assert plan_revise(plan=first, by=make_staff()) == plan_revise(plan=first, by=make_staff())
    assert Plan.objects.count() == 2


def test_the_lines_of_the_next_version_are_kept_when_the_plan_is_built_again() -> None:
    by = make_staff()
    first = make_issued(by=by)
    second = plan_revise(plan=first, by=by)
    texts = sorted(a.text for a in second.actions.all())
    assert plan_draft(case=first.case, causes=first.causes, by=by).pk == second.pk
    assert sorted(a.text for a in second.actions.all()) == texts


# --- looks afterwards -----------------------------------------------------------------------------
def test_a_plan_is_not_issued_once_the_case_changed_until_it_is_worked_out_again() -> None:
    by, case = make_staff(), make_wet_case()
    plan = make_draft(case, by)
    finding_record(case=case, code="salt-crust", state="present")
    with pytest.raises(DeskError, match="changed since"):
        plan_issue(plan=plan, by=by, send_email=False)
    case_tell(case=case, story="Other words only.", onset_days=None, notes="")
    issued = plan_issue(plan=make_draft(case, by), by=by, send_email=False)
    assert issued.snapshot["causes"][0]["probability"] == pytest.approx(
        next(c["probability"] for c in issued.ranking.result["causes"] if c["code"] == "overwatering"),
        abs=1e-4,
    )


def test_a_plan_is_not_issued_with_a_next_look_that_has_passed() -> None:
    by = make_staff()
    plan = make_draft(by=by)
    Plan.objects.filter(pk=plan.pk).update(look_again_on=timezone.localdate() - datetime.timedelta(days=1))
    with pytest.raises(DeskError, match="has passed"):
        plan_issue(plan=plan, by=by, send_email=False)


def test_a_line_saved_after_the_plan_was_built_again_is_not_brought_back() -> None:
    by, case = make_staff(), make_wet_case()
    stale = make_draft(case, by).actions.get(code="let-pot-dry")
    plan = make_draft(case, by, ["underwatering"])
    with pytest.raises(DeskError, match="gone"):
        action_edit(action=stale, included=True, when="today", text="Old words.", quantity="")
    assert not plan.actions.filter(text="Old words.").exists()


def test_edited_lines_of_causes_no_longer_chosen_stay_in_sight_but_not_in_the_plan() -> None:
    by, case = make_staff(), make_wet_case()
    line = make_draft(case, by, ["overwatering"]).actions.get(code="let-pot-dry")
    action_edit(action=line, included=True, when="today", text="Wait until Friday.", quantity="")
    plan = make_draft(case, by, ["underwatering"])
    kept = plan.actions.get(code="let-pot-dry")
    assert (kept.text, kept.included) == ("Wait until Friday.", False)


def test_a_case_has_one_open_look_and_the_newer_plans_day_counts() -> None:
    by = make_staff()
    first = make_issued(by=by)
    second = plan_revise(plan=first, by=by)
    day = timezone.localdate() + datetime.timedelta(days=9)
    plan_tell(plan=second, greeting="", look_again_on=day)
    plan_issue(plan=second, by=by, send_email=False)
    assert [(look.plan_id, look.due_on) for look in FollowUp.objects.all()] == [(second.pk, day)]


def test_a_look_that_was_done_stays_when_a_newer_plan_is_issued() -> None:
    by = make_staff()
    first = make_issued(by=by)
    follow_up_record(follow_up=first.follow_up, progress="worse", note="Roots smell.", by=by)
    second = plan_revise(plan=first, by=by)
    plan_issue(plan=second, by=by, send_email=False)
    assert FollowUp.objects.filter(done_at__isnull=False).get().note == "Roots smell."
    assert FollowUp.objects.filter(done_at__isnull=True).get().plan == second


def test_without_a_day_no_look_is_noted() -> None:
    plan = make_draft()
    plan_tell(plan=plan, greeting="", look_again_on=None)
    plan_issue(plan=plan, by=make_staff(), send_email=False)
    assert not FollowUp.objects.exists()


def test_a_look_says_how_it_is_now() -> None:
    look = make_issued().follow_up
    counter = make_staff(Role.COUNTER)
    with pytest.raises(DeskError, match="how the garden is now"):
        follow_up_record(follow_up=look, progress="splendid", note="", by=counter)
    follow_up_record(follow_up=look, progress="better", note="New leaves.", by=counter)
    look.refresh_from_db()
    assert (look.progress, look.done_by) == ("better", counter)
    assert look.done_at is not None


# --- what it was ----------------------------------------------------------------------------------
def test_confirming_a_cause_needs_the_right_and_says_how() -> None:
    case, by = make_wet_case(), make_staff()
    with pytest.raises(PermissionDenied, match="confirm the cause"):
        case_confirm(case=case, cause="overwatering", how="seen", by=make_staff(Role.COUNTER))
    with pytest.raises(DeskError, match="how the cause was confirmed"):
        case_confirm(case=case, cause="overwatering", how="guessed", by=by)
    case.refresh_from_db()
    assert case.status == CaseStatus.OPEN
    case_confirm(case=case, cause="none-of-these", how="laboratory", by=by)
    case.refresh_from_db()
    assert (case.status, case.confirmed_cause, case.confirmed_by) == (CaseStatus.CLOSED, "none-of-these", by)


@pytest.mark.parametrize(("planned", "status"), [(False, CaseStatus.OPEN), (True, CaseStatus.PLANNED)])
def test_a_reopened_case_is_where_it_was_and_keeps_its_history(planned: bool, status: str) -> None:
    case, by = make_wet_case(), make_staff()
    if planned:
        make_issued(case, by)
    case_confirm(case=case, cause="overwatering", how="measured", by=by)
    case_reopen(case=case, by=by)
    case.refresh_from_db()
    assert (case.status, case.confirmed_cause, case.confirmed_how) == (status, "", "")
    assert case.confirmed_at is None
    assert "overwatering" in case.history.values_list("confirmed_cause", flat=True)


# --- two at once ----------------------------------------------------------------------------------
@pytest.fixture
def together(transactional_db: None, settings: Any, tmp_path: Any) -> Any:
    """Run a function in several threads at once, each with a connection of its own.

    On SQLite the test database is in this process's memory, where threads share one lock: a copy in a file
    takes its place for the length of the test.
    """
    import sqlite3

    usual = connections["default"]
    usual.ensure_connection()
    name = settings.DATABASES["default"]["NAME"]
    if usual.vendor == "sqlite":
        path = tmp_path / "shared.sqlite3"
        with sqlite3.connect(path) as copy:
            usual.connection.backup(copy)
        copy.close()
        settings.DATABASES["default"]["NAME"] = path
        connections["default"] = usual.copy()
        connections["default"].settings_dict["NAME"] = path

    def run(*functions: Any) -> list[Any]:
        barrier, results = threading.Barrier(len(functions)), [None] * len(functions)

        def one(place: int, function: Any) -> None:
            try:
                barrier.wait(timeout=20)
                results[place] = function()
            except Exception as error:
                results[place] = error
            finally:
                connections["default"].close()

        threads = [threading.Thread(target=one, args=pair) for pair in enumerate(functions)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
        return results

    yield run
    if usual.vendor == "sqlite":
        connections["default"].close()
        connections["default"] = usual
        settings.DATABASES["default"]["NAME"] = name


@pytest.mark.django_db(transaction=True)
def test_of_two_who_issue_at_once_exactly_one_does(together: Any) -> None:
    people = [make_staff(), make_staff()]
    plan = make_draft(make_wet_case(consent=True))

    def issuing(by: Any) -> Any:
        return lambda: plan_issue(plan=Plan.objects.get(pk=plan.pk), by=by, send_email=True)

    results = together(*(issuing(by) for by in people))
    issued = [result for result in results if isinstance(result, Plan)]
    refusals = [result for result in results if isinstance(result, DeskError)]
    assert (len(issued), len(refusals)) == (1, 1), results
    assert "never changes" in str(refusals[0])
    assert Plan.objects.get().issued_by == issued[0].issued_by
    assert Message.objects.count() == FollowUp.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_who_make_the_next_version_at_once_get_the_same_draft(together: Any) -> None:
    plan, by = make_issued(), make_staff()
    results = together(*[lambda: plan_revise(plan=Plan.objects.get(pk=plan.pk), by=by)] * 2)
    assert results[0] == results[1], results
    assert Plan.objects.filter(status=PlanStatus.DRAFT).count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_who_build_the_plan_at_once_make_one_draft(together: Any) -> None:
    case, by = make_wet_case(), make_staff()
    results = together(*[lambda: plan_draft(case=Case.objects.get(pk=case.pk), causes=CAUSES, by=by)] * 2)
    assert results[0] == results[1], results
    codes = list(Plan.objects.get().actions.values_list("code", flat=True))
    assert len(codes) == len(set(codes))
