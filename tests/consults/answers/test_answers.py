"""An answer of the bench goes into the case it was asked for, and from there into the plan."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from consults.answers.services import answer_into_plan, answer_keep, quantity_of
from consults.errors import DeskError
from consults.models import BenchAnswer
from consults.plans.services import plan_issue
from garden.bench.tools import all_tools
from tests.consults.plans.making import make_draft, make_wet_case
from tests.factories import client_of, make_staff

pytestmark = pytest.mark.django_db


def typed(code):
    """The example of a tool as somebody would type it."""
    fields = all_tools()[code].fields
    return {field.name: f"{field.example}" for field in fields if field.example is not None} | {
        "units": "metric"
    }


def test_an_answer_is_worked_out_anew_and_kept_with_its_inputs_and_working():
    case, by = make_wet_case(), make_staff("counter")
    kept = answer_keep(case=case, tool="feed-drain", sent=typed("feed-drain"), by=by)
    assert kept.answer["headline"]
    assert kept.answer["working"]
    assert kept.answer["source"]
    assert set(kept.inputs) <= set(typed("feed-drain"))


def test_what_cannot_be_answered_is_not_kept():
    case, by = make_wet_case(), make_staff("counter")
    with pytest.raises(DeskError, match="no such question"):
        answer_keep(case=case, tool="no-such", sent={}, by=by)
    with pytest.raises(DeskError):
        answer_keep(
            case=case,
            tool="feed-drain",
            sent={**typed("feed-drain"), next(iter(typed("feed-drain"))): "x"},
            by=by,
        )
    assert not BenchAnswer.objects.exists()


def test_a_kept_answer_is_quoted_in_the_plan_with_working_and_cautions():
    case, by = make_wet_case(), make_staff("manager")
    kept = answer_keep(case=case, tool="water-acid", sent=typed("water-acid"), by=by)
    plan = make_draft(case, by)
    action = answer_into_plan(answer=kept, by=by)
    assert action.plan_id == plan.pk
    snapshot = plan_issue(plan=plan, by=by, send_email=False).snapshot
    line = next(row for row in snapshot["actions"] if row["quantity"].startswith(kept.answer["headline"]))
    assert line["cautions"] == kept.answer["cautions"] != []
    quoted = next(row for row in snapshot["workings"] if row["shown"] == line["quantity"])
    assert set(kept.answer["working"]) < set(quoted["lines"])
    for label, value in kept.answer["facts"]:
        assert f"{label}: {value}" in quoted["lines"]


def test_put_into_the_plan_twice_it_stands_there_once():
    case, by = make_wet_case(), make_staff("manager")
    kept = answer_keep(case=case, tool="feed-drain", sent=typed("feed-drain"), by=by)
    plan = make_draft(case, by)
    first, again = answer_into_plan(answer=kept, by=by), answer_into_plan(answer=kept, by=by)
    assert first.pk == again.pk
    assert plan.actions.filter(quantity_code=f"bench-{kept.pk}").count() == 1


def test_an_answer_asked_for_in_other_units_is_kept_in_the_grower_s():
    case, by = make_wet_case(), make_staff("manager")
    case.grower.units = "us"
    case.grower.save()
    kept = answer_keep(case=case, tool="feed-drain", sent=typed("feed-drain"), by=by)
    said = " ".join([kept.answer["headline"], *kept.answer["working"]])
    assert "gal" in said
    assert " L" not in said


def test_a_line_of_a_plan_ends_between_words_and_holds_the_facts_that_fit():
    assert quantity_of("Drain 30 L", ["refill: 30 L", "acid: 12 mL"]) == (
        "Drain 30 L; refill: 30 L; acid: 12 mL"
    )
    long = quantity_of("word " * 60, [])
    assert len(long) <= 200
    assert long.endswith("word…")
    assert quantity_of("x" * 190, ["a fact too long to fit"]) == "x" * 190


def test_without_a_draft_the_answer_waits_and_says_why():
    case, by = make_wet_case(), make_staff("manager")
    kept = answer_keep(case=case, tool="feed-drain", sent=typed("feed-drain"), by=by)
    with pytest.raises(DeskError, match="Build the plan"):
        answer_into_plan(answer=kept, by=by)


def test_the_counter_keeps_answers_but_does_not_write_plans():
    case, by = make_wet_case(), make_staff("counter")
    kept = answer_keep(case=case, tool="feed-drain", sent=typed("feed-drain"), by=by)
    make_draft(case)
    with pytest.raises(PermissionDenied):
        answer_into_plan(answer=kept, by=by)


def test_the_bench_page_offers_the_open_cases_of_these_plants_only():
    case, client = make_wet_case(), client_of("counter")
    page = client.get(reverse("answer-offer", args=["feed-drain"]), {"planting": case.planting_id})
    assert f"Case {case.pk}" in page.content.decode()
    other = client.get(reverse("answer-offer", args=["feed-drain"]), {"planting": case.planting_id + 1000})
    assert "Keep in" not in other.content.decode()


def test_keeping_from_the_page_says_so_and_the_case_shows_it():
    case, client = make_wet_case(), client_of("counter")
    url = reverse("answer-keep", args=[case.pk])
    assert "Kept." in client.post(url, {**typed("feed-drain"), "tool": "feed-drain"}).content.decode()
    assert "How much do I drain?" in client.get(reverse("case", args=[case.pk])).content.decode()
    assert client.post(url, {"tool": "feed-drain"}).status_code == 422
