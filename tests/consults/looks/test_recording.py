"""What a look came to: recorded once, never changed, corrected by a newer row, given on as plain data."""

import datetime

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone

from consults.cases.services import case_reopen
from consults.choices import CameTo
from consults.diagnosis import NONE_OF_THESE
from consults.errors import DeskError
from consults.looks.outcomes import outcomes_data
from consults.looks.recording import Judged, look_record, outcome_correct
from consults.looks.services import LookClosedError
from consults.models import Case, CheckIn, FollowUp, Outcome
from garden.access import Role
from tests.consults.looks.making import answers, make_check_in, make_look, path_of, phone, words_of
from tests.consults.plans.making import make_issued
from tests.factories import client_of, make_photo, make_staff

pytestmark = pytest.mark.django_db


def lines(look: FollowUp) -> list[int]:
    return [line.pk for line in look.plan.actions.filter(included=True)]


def judged(look: FollowUp, **changes) -> Judged:
    first, second, *_rest = lines(look)
    said = {
        "came_to": CameTo.SOLVED,
        "causes": ["overwatering"],
        "how": "measured",
        "effects": {str(first): "helped", str(second): "nothing"},
        "findings": {"medium-stays-wet": "absent", "chlorosis-uniform-older": ""},
        "note": "Dry by now.",
    }
    return Judged(**{**said, **changes})


def test_an_outcome_holds_all_that_a_later_work_learns_from():
    look = make_look(issued_ago=7)
    phone().post(path_of(look), answers(look))
    look_record(look=look, judged=judged(look), by=make_staff())
    (data,) = outcomes_data()
    plan = look.plan
    assert (data.case, data.plan, data.plan_version) == (plan.case_id, plan.pk, 1)
    assert data.ruleset == plan.ranking.ruleset.version and data.ranking == plan.ranking.result
    assert (data.causes, data.how, data.came_to) == (("overwatering",), "measured", "solved")
    assert data.chosen_causes == tuple(plan.causes)
    assert data.days_to_look == 7 and data.ends
    by_code = {action.code: (action.done, action.effect) for action in data.actions}
    codes = [line.code for line in plan.actions.filter(included=True)]
    assert by_code[codes[0]] == ("done", "helped") and by_code[codes[1]] == ("done", "nothing")
    assert set(by_code) == set(codes)
    assert data.findings_before["medium-stays-wet"] == "present"
    assert data.findings_before["pests-on-leaves"] == "absent"
    assert data.findings_after == {"medium-stays-wet": "absent"}
    assert data.readings_before == {"root_zone_ph": 6.9, "air_temp_c": 24, "rh_percent": 62}
    assert data.readings_after == {"root_zone_ph": 6.2, "air_temp_c": 23, "rh_percent": 60}


def test_an_outcome_holds_no_words_about_anybody():
    look = make_look()
    look_record(look=look, judged=judged(look), by=make_staff())
    row = repr(Outcome.objects.values().get())
    for word in ("Quist", "Dry by now", "droop", look.plan.actions.all()[0].text):
        assert word not in row


def test_closing_with_a_cause_confirms_the_case():
    look, by = make_look(), make_staff()
    look_record(look=look, judged=judged(look), by=by)
    case = Case.objects.get()
    assert (case.status, case.confirmed_cause, case.confirmed_how) == ("closed", "overwatering", "measured")
    look.refresh_from_db()
    assert (look.progress, look.note, look.done_by) == ("better", "Dry by now.", by)


def test_closing_without_a_cause_leaves_the_case_as_it_is():
    look = make_look()
    look_record(look=look, judged=judged(look, causes=[], how=""), by=make_staff(Role.COUNTER))
    assert Case.objects.get().status == "planned" and Outcome.objects.get().confirmed_how == ""
    assert not FollowUp.objects.filter(done_at__isnull=True).exists()


def test_none_of_these_is_an_answer_and_so_are_two_causes():
    look, other = make_look(), make_look()
    look_record(look=look, judged=judged(look, causes=[NONE_OF_THESE], how="presumed"), by=make_staff())
    both = ["overwatering", "high-root-zone-ph"]
    look_record(look=other, judged=judged(other, causes=both), by=make_staff())
    assert [data.causes for data in outcomes_data()] == [(NONE_OF_THESE,), tuple(both)]


def test_looking_again_moves_the_look_and_keeps_what_was_told():
    look = make_look(issued_ago=5)
    phone().post(path_of(look), answers(look))
    day = timezone.localdate() + datetime.timedelta(days=6)
    look_record(look=look, judged=judged(look, causes=[], came_to="same"), by=make_staff(), next_on=day)
    moved = FollowUp.objects.get()
    assert (moved.due_on, moved.done_at) == (day, None)
    assert CheckIn.objects.get().sent_at and not Outcome.objects.get().ends
    assert make_check_in(moved).sent_at is None
    look_record(look=moved, judged=judged(look, came_to="solved"), by=make_staff())
    assert [(data.came_to, data.ends) for data in outcomes_data()] == [("same", False), ("solved", True)]


@pytest.mark.parametrize("days", [0, -1])
def test_the_next_look_is_after_today(days):
    look = make_look()
    day = timezone.localdate() + datetime.timedelta(days=days)
    with pytest.raises(DeskError, match="after today"):
        look_record(look=look, judged=judged(look), by=make_staff(), next_on=day)


def test_a_look_is_recorded_once():
    look = make_look()
    look_record(look=look, judged=judged(look), by=make_staff())
    with pytest.raises(LookClosedError):
        look_record(look=look, judged=judged(look), by=make_staff())
    assert Outcome.objects.count() == 1


def test_confirming_a_cause_needs_the_right_and_a_way_of_knowing():
    look = make_look()
    with pytest.raises(PermissionDenied):
        look_record(look=look, judged=judged(look), by=make_staff(Role.COUNTER))
    with pytest.raises(DeskError, match="how the cause was confirmed"):
        look_record(look=look, judged=judged(look, how=""), by=make_staff())
    with pytest.raises(DeskError, match="Say how it is now"):
        look_record(look=look, judged=judged(look, came_to="splendid"), by=make_staff())
    assert not Outcome.objects.exists() and not FollowUp.objects.get().done_at


@pytest.mark.parametrize("change", [{"came_to": "lost"}, {"actions": []}, {"confirmed_causes": ["thrips"]}])
def test_the_database_refuses_to_change_an_outcome(change):
    look = make_look()
    outcome = look_record(look=look, judged=judged(look), by=make_staff())
    with pytest.raises(DatabaseError, match="never changes"), transaction.atomic():
        Outcome.objects.filter(pk=outcome.pk).update(**change)
    assert Outcome.objects.get().came_to == "solved"


def test_who_recorded_an_outcome_may_leave_the_shop():
    look, by = make_look(), make_staff()
    outcome = look_record(look=look, judged=judged(look), by=by)
    Outcome.objects.filter(pk=outcome.pk).update(recorded_by=None)
    assert Outcome.objects.get().recorded_by is None


def test_a_correction_is_a_newer_row_that_counts_instead():
    look, by = make_look(), make_staff()
    first = look_record(look=look, judged=judged(look), by=by)
    second = outcome_correct(
        outcome=first, judged=judged(look, came_to="lost", causes=["high-root-zone-ph"]), by=by
    )
    assert Outcome.objects.count() == 2 and second.corrects == first
    (data,) = outcomes_data()
    assert (data.outcome, data.came_to, data.causes) == (second.pk, "lost", ("high-root-zone-ph",))
    assert data.readings_before and data.days_to_look == 7
    assert Case.objects.get().confirmed_cause == "high-root-zone-ph"
    assert FollowUp.objects.get().progress == "worse"
    with pytest.raises(DeskError, match="corrected already"):
        outcome_correct(outcome=first, judged=judged(look), by=by)


def test_correcting_a_confirmed_cause_needs_the_right():
    look = make_look()
    outcome = look_record(look=look, judged=judged(look), by=make_staff())
    with pytest.raises(PermissionDenied):
        outcome_correct(outcome=outcome, judged=judged(look, causes=[]), by=make_staff(Role.COUNTER))


def test_a_correction_does_not_close_a_case_that_was_opened_again():
    look, by = make_look(), make_staff()
    outcome = look_record(look=look, judged=judged(look), by=by)
    case_reopen(case=Case.objects.get(), by=by)
    outcome_correct(outcome=outcome, judged=judged(look, came_to="worse"), by=by)
    assert Case.objects.get().status == "planned"


def test_what_a_grower_told_outlives_the_look_that_a_newer_plan_replaces():
    look = make_look()
    phone().post(path_of(look), answers(look))
    make_issued(look.plan.case)
    assert not FollowUp.objects.filter(plan=look.plan).exists()
    assert CheckIn.objects.get().words == "New leaves are green."


def test_a_thousand_looks_are_read_with_a_few_queries(django_assert_num_queries):
    for _ in range(3):
        look = make_look()
        look_record(look=look, judged=judged(look), by=make_staff())
    with django_assert_num_queries(3):
        assert len(list(outcomes_data())) == 3


# --- the page -------------------------------------------------------------------------------------
def test_before_and_after_stand_on_one_page():
    look = make_look()
    photo = make_photo(look.plan.case.planting, caption="Drooping")
    look.plan.case.photos.create(photo=photo)
    phone().post(path_of(look), answers(look))
    page = client_of().get(reverse("follow-up", args=[look.pk]))
    ph = next(pair for pair in page.context["compared"].readings if pair.row["code"] == "root_zone_ph")
    assert (ph.then, ph.now) == ("6.9", "6.2")
    assert (ph.row["previous"], ph.row["value"]) == (6.9, 6.2)
    content = page.content.decode()
    assert "fig-ghost" in content and reverse("photo-thumb", args=[photo.pk]) in content
    assert "New leaves are green." in content
    codes = [pair.row["code"] for pair in page.context["compared"].readings]
    assert "vpd_kpa" in codes and "dli_mol_m2_d" not in codes  # computed from readings; from the lamps alone


def test_a_reading_that_was_not_taken_again_stands_alone():
    look = make_look()
    phone().post(path_of(look), {"read-air_temp_c": "23"})
    pairs = client_of().get(reverse("follow-up", args=[look.pk])).context["compared"].readings
    said = {pair.row["code"]: (pair.then, pair.now) for pair in pairs}
    assert said["root_zone_ph"] == ("6.9", "") and said["air_temp_c"] == ("24.0", "23.0")


def sent(look: FollowUp, **more) -> dict[str, str]:
    first = lines(look)[0]
    return {
        f"effect-{first}": "helped", "now-medium-stays-wet": "absent", "came_to": "better",
        "cause": "overwatering", "how": "seen", "note": "Good.", "close": "1", **more,
    }  # fmt: skip


def test_staff_record_and_close_on_the_page():
    look, client = make_look(), client_of()
    answer = client.post(reverse("look-record", args=[look.pk]), sent(look))
    assert answer.headers["Location"] == reverse("case", args=[look.plan.case_id])
    outcome = Outcome.objects.get()
    assert outcome.came_to == "better" and outcome.findings_after == {"medium-stays-wet": "absent"}
    page = client.get(reverse("follow-up", args=[look.pk]))
    assert page.context["form"] is None and "Correct" in words_of(page)


def test_staff_agree_on_another_day_on_the_page():
    look, client = make_look(), client_of()
    form = sent(look, again="1", cause="", how="")
    form.pop("close")
    here = reverse("look-record", args=[look.pk])
    assert "Choose the day of the next look" in words_of(client.post(here, form))
    day = timezone.localdate() + datetime.timedelta(days=3)
    client.post(here, {**form, "next_on": day.isoformat()})
    assert FollowUp.objects.get().due_on == day and not Outcome.objects.get().ends


def test_what_is_missing_is_said_and_what_was_typed_stays():
    look = make_look()
    page = client_of().post(reverse("look-record", args=[look.pk]), sent(look, came_to="", how=""))
    assert page.status_code == 422
    said = words_of(page)
    assert "Say how it is now." in said and "Say how the cause was confirmed." in said and "Good." in said


def test_the_counter_records_without_a_cause():
    look, client = make_look(), client_of(Role.COUNTER)
    page = client.get(reverse("follow-up", args=[look.pk]))
    assert "cause" not in page.context["form"].fields
    client.post(reverse("look-record", args=[look.pk]), sent(look))
    assert Outcome.objects.get().confirmed_causes == []


def test_staff_correct_on_a_page_of_its_own():
    look, client = make_look(), client_of()
    client.post(reverse("look-record", args=[look.pk]), sent(look))
    here = reverse("outcome-correct", args=[Outcome.objects.get().pk])
    assert client.get(here).context["form"]["came_to"].value() == "better"
    client.post(here, sent(look, came_to="worse"))
    assert [data.came_to for data in outcomes_data()] == ["worse"]
