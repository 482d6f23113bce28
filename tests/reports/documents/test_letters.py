"""Characters no font of this machine can draw are named, with their place, before anything is sent."""

import pytest

from reports.documents.letters import Undrawn, letter_name, undrawn_places
from reports.documents.plan import render_plan
from tests.reports.documents import samples
from tests.reports.documents.tagged import page_texts

# Two code points of Unicode's private use area, which no font is bound to draw.
ONE, TWO = "\U000f1234", "\U000f1235"


def test_where_all_letters_can_be_drawn_nothing_is_said():
    assert undrawn_places(samples.with_card()) == []


@pytest.mark.parametrize(
    ("path", "place"),
    [
        (("grower", "name"), "the grower's name"),
        (("shop", "address"), "the shop's settings"),
        (("case", "story"), "the story"),
        (("plan", "greeting"), "the opening words"),
        (("actions", 1, "text"), "line 2 of the plan"),
        (("mixing", "doses", 0, "name"), "the name of a feed"),
        (("seen", 0, "text"), "the text"),
    ],
)
def test_each_is_named_with_the_place_it_stands_in(path, place):
    snapshot = samples.with_card()
    part = snapshot
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = f"a{TWO}b{ONE}{TWO}"
    assert undrawn_places(snapshot) == [Undrawn(place, (TWO, ONE))]


def test_a_character_is_called_by_its_name_and_number():
    assert letter_name("\N{SEEDLING}") == "SEEDLING, U+1F331"
    assert letter_name("王") == "U+738B"
    assert letter_name(ONE) == "U+F1234"


def test_many_are_cut_short_and_said_to_be_more():
    snapshot = samples.typical()
    snapshot["case"]["story"] = "".join(chr(0xF1000 + n) for n in range(40))
    (place,) = undrawn_places(snapshot)
    assert (len(place.letters), place.more) == (12, 28)
    assert place.named.endswith("…")


def test_a_draft_says_so_on_its_first_page_and_an_issued_plan_does_not():
    snapshot = samples.typical()
    snapshot["grower"]["name"] = f"Ana {ONE}"
    assert "cannot be printed" not in page_texts(render_plan(snapshot, samples.photo).pdf)[0]
    snapshot["plan"]["draft"] = True
    said = " ".join(page_texts(render_plan(snapshot, samples.photo).pdf)[0].split())
    assert "the grower's name: U+F1234" in said
