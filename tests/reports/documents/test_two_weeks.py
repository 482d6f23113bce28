"""What the plan prints of its first two weeks, of the shopping, and of how to know that a step worked."""

import re

import pytest

from reports.documents.plan import plan_html, render_plan
from reports.documents.two_weeks import days_view, first_sentence, shopping_view, steps_by_line
from tests.reports.documents import samples
from tests.reports.documents.tagged import opened, page_texts, tags

ORDER = ("today", "this-week", "later")


def said_by(snapshot):
    return re.sub(r"\s+", " ", " ".join(page_texts(render_plan(snapshot, samples.photo).pdf)))


def steps_of(snapshot):
    return steps_by_line(snapshot["actions"], ORDER)


@pytest.fixture(scope="module")
def made():
    return render_plan(samples.with_days(), samples.photo)


@pytest.fixture(scope="module")
def said(made):
    return re.sub(r"\s+", " ", " ".join(page_texts(made.pdf)))


def test_each_step_says_how_to_know_that_it_worked_by_when_and_when_to_stop(said):
    assert (
        "It worked if: The pots get lighter from day to day. Look on 18 March 2026. "
        "Stop and call: The plants hang and the pots are light." in said
    )
    assert "It worked if: The new mix feels light after three days. Stop and call:" in said


def test_a_step_that_waits_names_the_step_it_would_be_confused_with(said):
    assert "Waits until the first look, so that it can be told apart from step 2." in said


def test_a_step_that_waits_for_what_is_no_longer_in_the_plan_says_its_words():
    snapshot = samples.with_days()
    snapshot["actions"][3]["waits_for"] = "Shade the roof."
    assert "told apart from “Shade the roof.”." in said_by(snapshot)


def test_shopping_and_days_come_after_the_steps_and_before_the_reasons(said):
    parts = ("Do these today", "Later", "The first two weeks, day by day", "Shopping", "What we saw")
    places = [said.index(part) for part in parts]
    assert places == sorted(places)


def test_every_one_of_fourteen_days_is_there_with_what_is_done_and_looked_for(said):
    for day in samples.with_days()["calendar"]["days"]:
        assert day["shown"] in said
    for part in (
        "Every day from Sunday 15 March: Lift a pot; water only when it feels light.",
        "Steps 1, 2, 3 of this plan",
        "Step 4: Raise the lamp. Read its caution first.",
        "We look again together, on 17 March 2026.",
        "By now: New leaves stand up in the morning.",
        "After these two weeks, or when its time comes: Step 5: Repot",
    ):
        assert part in said


def test_what_is_repeated_every_day_is_said_once_and_what_is_not_on_its_days(said):
    assert said.count("Lift a pot; water only when it feels light.") == 1
    assert said.count("Measure the pH of the runoff.") == 3


def test_what_pauses_or_begins_late_is_told_on_its_days():
    snapshot = samples.with_days()
    days = snapshot["calendar"]["days"]
    days[6]["items"] = []
    assert days_view(snapshot, steps_of(snapshot))["daily"] == []
    assert "Nothing to do. Leave the plants as they are." in said_by(snapshot)
    for day in days[:7]:
        day["items"] = []
    assert days_view(snapshot, steps_of(snapshot))["daily"] == []


def test_the_list_says_what_how_much_at_which_price_and_what_serves_without_buying(said):
    for part in (
        "Coarse perlite (step 5) 8 litres 1 × Perlite, coarse, 10 L Aisle 2 12.50 EUR "
        "Nothing free serves the same end.",
        "pH-down acid (step 2) ask us not on our shelf Use collected rain water. Step 1 of this plan",
        "Gloves and goggles (step 2) if not at home not on our shelf Leave the acid to us.",
        "In all: 12.50 EUR and 1 thing without a price",
        "With what may be at home already: 12.50 EUR and 2 things without a price",
    ):
        assert part.replace(" ", "") in said.replace(" ", "").replace("\xa0", "")


def test_what_must_be_bought_comes_before_what_may_be_at_home():
    snapshot = samples.with_days()
    snapshot["shopping"]["lines"].reverse()
    assert [line["must"] for line in shopping_view(snapshot, steps_of(snapshot))["lines"]] == [
        True, True, False,
    ]  # fmt: skip


def test_nothing_priced_says_so_instead_of_a_sum_of_nothing():
    snapshot = samples.with_days()
    for line in snapshot["shopping"]["lines"]:
        line["cost"] = ""
    said = said_by(snapshot)
    assert "In all" not in said
    assert "What has to be bought has no price here yet; ask us." in said


def test_a_plan_that_needs_nothing_bought_says_so():
    snapshot = samples.with_days()
    snapshot["shopping"]["lines"] = []
    assert "Nothing has to be bought for this plan." in said_by(snapshot)


def test_every_table_has_header_cells_with_their_scope():
    html = plan_html(samples.with_days())
    assert html.count("<table") == 4
    assert html.count('<th scope="col">') == 5 + 4 + 2 + 2
    assert html.count('<th scope="row">') == len(samples.TYPICAL["readings"]) + 3 + 14
    assert "<th>" not in html


def test_cells_of_the_days_know_their_headers(made):
    pdf = opened(made.pdf)
    found = list(tags(pdf))
    ids = {str(element.ID) for tag, element in found if tag == "TH"}
    for tag, element in found:
        if tag == "TD":
            assert {str(header) for header in element.A.Headers} & ids


@pytest.mark.parametrize("name", ["typical", "unsure", "before_cautions_stood_at_steps"])
def test_plans_from_before_there_was_a_calendar_print_none(name):
    html = plan_html(getattr(samples, name)())
    for part in ("day by day", "Shopping", "It worked if", "Waits until"):
        assert part not in html


def test_a_plan_without_steps_has_neither_days_nor_list():
    snapshot = {**samples.with_days(), "actions": []}
    html = plan_html(snapshot)
    assert "day by day" not in html and "Shopping" not in html


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_with_forty_steps_all_are_there_and_the_days_stand_under_their_heading(paper):
    snapshot = samples.with_days(samples.many_actions(40))
    snapshot["shop"]["paper"] = paper
    pages = page_texts(render_plan(snapshot, samples.photo).pdf)
    said = " ".join(pages)
    assert all(f"Step {number}:" in said for number in range(1, 41))
    (page,) = (page for page in pages if "The first two weeks, day by day" in page)
    assert "14 March" in page
    assert said.count("20 March") == said.count("27 March") == 1


def test_steps_are_numbered_as_they_are_printed_whatever_their_order_in_the_snapshot():
    actions = [{"when": when, "text": when} for when in ("later", "today", "this-week", "today")]
    assert [step.number for step in steps_by_line(actions, ORDER)] == [4, 1, 3, 2]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Stop watering. Lift the pot.", "Stop watering."),
        ("Give approx. 5 ml. Stir.", "Give approx. 5 ml."),
        ("Use e.g. rain water.", "Use e.g. rain water."),
        ("No end", "No end"),
        ("", ""),
    ],
)
def test_the_first_sentence_ends_where_the_next_begins_with_a_capital(text, first):
    assert first_sentence(text) == first
