"""The consult summary for the file: the whole case, why it was judged so, who, when, under which rules."""

import datetime
import re

import pytest
from django.utils import timezone

from consults.cases.selectors import case_get
from consults.models import FollowUp
from reports.documents.gathering import handout_data, summary_data
from reports.documents.summary import render_summary
from tests.factories import make_grower, make_question, make_staff
from tests.reports.documents import samples
from tests.reports.documents.tagged import opened, tags, text


def said(data):
    return re.sub(r"\s+", " ", text(render_summary(data, samples.photo).pdf))


def test_it_tells_the_case_in_the_order_it_happened():
    words = said(samples.summary())
    order = [
        "Consult summary: Ana Lindqvist", "The story", "They stopped growing", "Our notes", "The garden",
        "What was looked at", "Readings", "What we think, and why", "Worked out at the bench", "Plans",
        "What came of it", "It turned out to be: Overwatering (seen), 25 March 2026, Mia Okafor",
        "Printed on 26 March 2026 by Jo Hart. Made with rules 0a1b2c3d4e5f.",
    ]  # fmt: skip
    places = [words.index(part) for part in order]
    assert places == sorted(places)


def test_each_check_says_what_was_found_when_and_by_whom():
    words = said(samples.summary())
    assert "The plant hangs although the pot is wet there 12 March 2026 Mia Okafor" in words
    assert "Fine webs under the leaves not there 12 March 2026 Mia Okafor" in words


def test_each_cause_has_its_likelihood_and_reasons_for_and_against():
    words = said(samples.summary())
    assert "likely, 7 in 10 Speaks for it:" in words
    assert "Speaks against it: The dissolved oxygen you measured is not very low." in words


def test_every_version_of_the_plan_is_there_with_its_fingerprint():
    words = said(samples.summary())
    assert "Version 1, 12 March 2026, Mia Okafor" in words and "Fingerprint 0123456789abcdef" in words
    assert "Version 2, Mia Okafor" in words and "not issued" in words


def test_every_reading_with_a_band_is_drawn_and_said_in_words():
    found = tags(opened(render_summary(samples.summary(), samples.photo).pdf))
    words = " ".join(str(element.Alt) for tag, element in found if tag == "Figure")
    for row in samples.TYPICAL["readings"]:
        assert (f"{row['name']}: {row['shown']}" in words) == (row["low"] is not None)


# --- from the database ------------------------------------------------------------------------------
@pytest.fixture
def case(db):
    from tests.architecture.world import make_world

    return make_world().case


def test_a_case_of_the_desk_is_gathered_whole(case):
    data = summary_data(case_get(case.pk), by=make_staff(), on=datetime.date(2026, 3, 26))
    assert data["made"]["on"] == "26 March 2026"
    assert len(data["checks"]) == case.findings.count() > 0
    assert {check["on"] for check in data["checks"]} != {""}
    assert [plan["version"] for plan in data["plans"]] == [1, 2]
    assert data["plans"][0]["hash"] and not data["plans"][1]["hash"]
    assert len(data["looks"]) == 1 and data["answers"] and data["photos"]
    assert data["causes"][0]["for"]
    made = render_summary(data, samples.photo)
    assert made.letters == ""
    assert case.grower.name in text(made.pdf)


def test_what_came_of_it_is_told(case):
    mia = make_staff(first_name="Mia", last_name="Okafor")
    done = {"done_at": timezone.now(), "done_by": mia, "progress": "better", "note": "They stand up."}
    FollowUp.objects.filter(plan__case=case).update(**done)
    (told,) = summary_data(case_get(case.pk), by=mia, on=datetime.date(2026, 3, 26))["looks"]
    assert (told["progress"], told["note"], told["by"]) == ("better", "They stand up.", "Mia Okafor")


def test_a_hand_out_takes_the_cautions_of_the_rules_for_what_its_answer_speaks_of(db):
    question = make_question(grower=make_grower(), answer="Lower it with acid.")
    data = handout_data(question)
    assert any("never water into" in caution for caution in data["cautions"])
    assert "grower" not in data
