"""The plan of the case that comes with the program, made as the desk makes it."""

import re
from pathlib import Path

import pytest

import consults.ruleset
from consults.cases.casefile import read_case_file
from consults.cases.ranking import rank_case
from consults.cases.rows import case_import
from consults.plans.services import plan_draft, plan_issue
from consults.rules.selectors import ruleset_current
from garden.models import Staff
from garden.reference.loader import load_reference
from reports.documents.kinds import plan_render
from reports.management.commands.consult import worth_acting_on
from tests.reports.documents.tagged import page_texts

pytestmark = pytest.mark.django_db

CASE = Path(consults.ruleset.__file__).parent / "cases" / "walk-in.json"


@pytest.fixture
def snapshot():
    staff = Staff.objects.create(username="mia", role="consultant", first_name="Mia")
    casefile = read_case_file(CASE, load_reference(), ruleset_current())
    case = case_import(casefile=casefile, by=staff, consent=False)
    chosen = worth_acting_on(rank_case(casefile, ruleset_current(), load_reference()))
    plan = plan_draft(case=case, causes=chosen, by=staff)
    return plan_issue(plan=plan, by=staff, send_email=False).snapshot


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bundled_walk_in_case_makes_two_to_four_pages_with_no_empty_one_before_the_last(snapshot, paper):
    snapshot["shop"]["paper"] = paper
    made = plan_render(snapshot)
    pages = page_texts(made.pdf)
    assert 2 <= made.pages <= 4
    assert made.undrawn == 0
    assert all(len(page.split("\n")) > 25 for page in pages[:-1])
    assert "How we worked it out" in pages[-1]


def test_all_of_today_stands_on_the_first_page_with_its_quantities(snapshot):
    first = re.sub(r"\s+", " ", page_texts(plan_render(snapshot).pdf)[0])
    today = [action for action in snapshot["actions"] if action["when"] == "today"]
    assert today and any(action["quantity"] for action in today)
    for action in today:
        for part in ("text", "quantity", "worked", "worked_by", "stop"):
            assert action[part] in first


def test_the_two_weeks_stand_whole_on_one_page_and_the_shopping_follows_before_why(snapshot):
    pages = page_texts(plan_render(snapshot).pdf)
    (found,) = (page for page in pages if "The first two weeks, day by day" in page)
    assert all(day["shown"] in found for day in snapshot["calendar"]["days"])
    shopping = [pages.index(page) for page in pages if "Without buying anything" in page]
    assert pages.index(found) <= shopping[0] and shopping[-1] <= 2


def test_the_first_page_says_what_it_is_and_every_caution_is_said_in_full_once(snapshot):
    pages = [re.sub(r"\s+", " ", page) for page in page_texts(plan_render(snapshot).pdf)]
    finding = "; ".join(f"{c['name']} ({c['word']}, {c['chance']})" for c in snapshot["causes"])
    assert len(snapshot["causes"]) >= 2
    assert f"We think it is: {finding}." in pages[0]
    assert snapshot["cautions"]
    for caution in snapshot["cautions"]:
        assert " ".join(pages).count(caution) == 1
