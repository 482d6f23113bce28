"""The mixing card: aims and doses large, the order safe, a log to fill in by hand."""

import re

import pytest

from reports.documents.card import card_html, render_card
from tests.reports.documents import samples
from tests.reports.documents.tagged import page_texts


def pages(snapshot):
    return [re.sub(r"\s+", " ", page) for page in page_texts(render_card(snapshot).pdf)]


@pytest.fixture(scope="module")
def front_and_back():
    return pages(samples.with_card())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_is_one_sheet_what_to_do_in_front_and_the_log_behind(paper):
    snapshot = samples.with_card()
    snapshot["shop"]["paper"] = paper
    front, back = pages(snapshot)
    for part in ("Feed EC (mS/cm) 1.20 to 2.00", "Feed pH 5.5 to 6.3", "In this order", "Caution"):
        assert part in front
    assert "Where to measure" in back and "Write it down" in back
    assert "Date" not in front


def test_doses_stand_for_a_round_volume_and_for_the_tank(front_and_back):
    front = front_and_back[0]
    assert "For every 10 litres For the tank, 40 litres" in front
    assert "Grow A 20 mL 80 mL" in front
    assert "As worked out with you on 14 March 2026." in front


def test_parts_never_meet_undiluted_and_acid_goes_last_into_the_water(front_and_back):
    front = front_and_back[0]
    order = [
        "Water first.", "One part at a time.", "Never pour two parts together undiluted",
        "measure the EC", "The pH last.", "Pour the acid into the water, never water into the acid",
    ]  # fmt: skip
    places = [front.index(part) for part in order]
    assert places == sorted(places)


def test_what_the_bench_said_about_acid_is_quoted_with_its_cautions(front_and_back):
    front = front_and_back[0]
    assert "How much acid? 3.2 mL of phosphoric acid, 85 % for 40 litres, in small steps" in front
    assert "Never let acid meet bleach." in front


def test_a_quantity_of_the_plan_about_the_feed_is_there_and_one_about_the_lamp_is_not():
    snapshot = samples.with_card()
    for action, code in zip(snapshot["actions"], ("", "feed-dilution", "", "lamp-height", ""), strict=True):
        action["quantity_code"] = code
    front = pages(snapshot)[0]
    assert "Lower the pH of the next feed. pH 5.8, measured after mixing" in front
    assert "Raise the lamp" not in front


def test_a_dose_made_smaller_says_so():
    snapshot = samples.with_card()
    snapshot["mixing"] |= {"doses_from": "garden", "thinned": True}
    assert "Less than you gave before: it was too strong." in pages(snapshot)[0]


def test_where_no_dose_is_known_there_are_rows_to_write_in():
    snapshot = samples.with_card()
    snapshot["mixing"] |= {"doses": [], "doses_from": ""}
    assert "No dose is known." in pages(snapshot)[0]
    assert card_html(snapshot).count('class="to-write"') == 3


def test_where_to_measure_depends_on_whether_the_water_comes_back(front_and_back):
    assert "what runs out below" in front_and_back[1]
    snapshot = samples.with_card()
    snapshot["mixing"]["recirculating"] = True
    assert "In the tank, after the pump has run" in pages(snapshot)[1]


def test_a_plan_issued_before_there_were_cards_gets_one_to_write_on():
    said = " ".join(pages(samples.typical()))
    assert "Mixing the feed" in said and "In this order" in said


def test_it_says_which_of_it_has_no_source(front_and_back):
    assert "common practice, no source" in front_and_back[1]


def test_a_draft_says_so_on_both_sides():
    snapshot = samples.with_card()
    snapshot["plan"]["draft"] = True
    assert all("DRAFT" in page for page in pages(snapshot))
