"""The hand-out: one page about a question, for anybody who asks the same."""

import re

import pypdfium2
import pytest

from reports.documents.handout import Block, read_answer, render_handout, spoken_of, title_of
from reports.documents.hazards import HAZARDS
from tests.reports.documents import samples
from tests.reports.documents.tagged import text


def said(data):
    return re.sub(r"\s+", " ", text(render_handout(data).pdf))


@pytest.mark.parametrize("make", [samples.handout, samples.long_handout])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_takes_one_page_however_long_the_answer_may_be(make, paper):
    data = make()
    data["shop"]["paper"] = paper
    assert render_handout(data).pages == 1


def test_a_short_answer_is_printed_larger_than_a_long_one():
    def size(data):
        page = pypdfium2.PdfDocument(render_handout(data).pdf)[0]
        part = page.get_textpage()
        found = part.search("Look")
        start, _count = found.get_next()
        _left, bottom, _right, top = part.get_charbox(start, loose=True)
        return top - bottom

    short = {**samples.handout(), "answer": "Look."}
    assert size(short) > 1.3 * size(samples.long_handout())


def test_it_says_the_question_the_answer_the_cautions_the_shop_and_the_day():
    words = said(samples.handout()).replace("•", "")
    order = [
        "Fernhollow Growing Supply", "How do I bring the pH of my tank down?", "14 March 2026",
        "Small steps", "Caution", "Keep the bottle away from children.", samples.ACID,
    ]  # fmt: skip
    places = [words.index(part) for part in order]
    assert places == sorted(places)
    assert "01632 960 145" in words


def test_it_names_nobody_and_tells_nothing_the_asker_told_besides():
    data = {**samples.handout(), "words": "I am Ana from Canal Row 3. Why do they hang? My husband waters."}
    words = said(data)
    assert "Why do they hang?" in words
    assert "Canal Row 3" not in words and "husband" not in words


@pytest.mark.parametrize(
    ("words", "title"),
    [
        ("Why?", "Why?"),
        ("They hang.  Why\ndo they? I water.", "Why do they?"),
        ("They hang, pH 5.8 is right.", "They hang, pH 5.8 is right."),
        ("なぜ葉が黄色い？水は毎日。", "なぜ葉が黄色い？"),
        ("word " * 60, ("word " * 28).strip() + "…"),
        ("w" * 200, "w" * 140 + "…"),
    ],
)
def test_the_title_is_the_question_itself(words, title):
    assert title_of(words) == title


def test_an_answer_is_read_as_paragraphs_lists_and_cautions():
    blocks, cautions = read_answer("One.\ntwo\n\n- a\n- b\n1. c\n2) d\ncaution: Hot.\nEnd")
    assert blocks == [
        Block("p", ("One.", "two")),
        Block("ul", ("a", "b")),
        Block("ol", ("c", "d")),
        Block("p", ("End",)),
    ]
    assert cautions == ["Hot."]


def test_an_open_question_says_that_it_is_not_answered():
    assert "Not answered yet." in said({**samples.handout(), "answer": ""})


@pytest.mark.parametrize(
    ("answer", "codes"),
    [
        ("Add the acid slowly.", ["acid"]),
        ("Use pH\ndown.", ["acid"]),
        ("Placid pumpkins.", []),
        ("Unplug the PUMP, and no spraying!", ["electricity-water", "pesticide-label"]),
        ("Raise CO₂ a little.", ["co2"]),
    ],
)
def test_words_of_danger_bring_their_caution_whole_words_only(answer, codes):
    assert spoken_of([answer], {code: str(words) for code, words in HAZARDS.items()}) == codes
