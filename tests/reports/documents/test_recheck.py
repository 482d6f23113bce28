"""The sheet for looking again: the same readings, the signs, what better looks like, when to call."""

import re

from reports.documents.recheck import recheck_html, render_recheck
from tests.reports.documents import samples
from tests.reports.documents.tagged import page_texts


def said(snapshot):
    return re.sub(r"\s+", " ", " ".join(page_texts(render_recheck(snapshot).pdf)))


def test_each_measured_reading_has_its_band_the_last_value_and_an_empty_box():
    snapshot = samples.typical()
    measured = [row for row in snapshot["readings"] if row["origin"] == "measured"]
    page = recheck_html(snapshot)
    assert page.count('<td class="now"></td>') == len(measured) + 1
    assert "Feed EC (mS/cm) 1.2 to 2 1.8" in said(snapshot)


def test_what_is_computed_is_not_asked_for():
    assert "Vapour pressure deficit" not in said(samples.typical())


def test_each_sign_that_was_seen_can_be_ticked_and_what_was_absent_is_not_asked():
    page = recheck_html(samples.typical())
    assert page.count("The surface of the pot is green") == 1
    assert "webs" not in page


def test_what_better_looks_like_and_what_was_done_are_yes_or_no():
    text = said(samples.typical())
    assert "New leaves stand up in the morning" in text and "21 March 2026" in text
    assert "Step of the plan yes in part no Stop watering until the pot feels light." in text
    assert "Repot into a mix" not in text  # not before the next look


def test_when_to_call_stands_on_the_first_page_with_the_phone():
    first = page_texts(render_recheck(samples.typical()).pdf)[0]
    for part in ("When to stop and call us", "Runoff falls below pH 5.2.", "01632 960 145", "17 March 2026"):
        assert part in first


def test_long_reasons_to_call_stand_below_and_none_is_lost():
    snapshot = samples.many_actions(40)
    for number, action in enumerate(snapshot["actions"]):
        action["stop_when"] = f"Reason {number}."
    text = said(snapshot)
    assert [n for n in range(40) if f"Reason {n}." not in text] == []


def test_where_nothing_was_measured_there_are_rows_to_write_in():
    snapshot = samples.typical()
    snapshot["readings"] = []
    assert recheck_html(snapshot).count('<td class="now"></td>') == 3
