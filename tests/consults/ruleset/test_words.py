"""Findings proposed from what growers say. The sentences are ours; common practice, no source."""

import pytest

from consults.ruleset.loader import load_bundled
from consults.ruleset.words import propose


def read(story):
    return {p.code: p.present for p in propose(story, load_bundled().findings)}


@pytest.mark.parametrize(
    ("story", "code", "present"),
    [
        ("Little black flies come out of the soil when I water.", "fungus-gnats", True),
        ("There is a white crust on the pot.", "salt-crust", True),
        ("My new leaves are yellow between green veins.", "interveinal-chlorosis-young", True),
        ("All of them lean to one side.", "leaning-to-light", True),
        ("No bugs on the leaves as far as I see.", "pests-on-leaves", False),
        ("The roots are not brown or slimy.", "roots-brown-soft", False),
    ],
)
def test_words_suggest_a_finding_and_a_no_turns_it_round(story, code, present):
    assert read(story)[code] is present


def test_a_no_in_another_clause_does_not_count():
    assert read("I see no bugs, but there is a white crust on the pot.")["salt-crust"] is True


def test_words_far_apart_or_about_nothing_propose_nothing():
    assert read("") == {}
    assert read("Everything is fine, I only want to buy a lamp.") == {}
    assert "salt-crust" not in read(
        "The white lamp I bought for my sister makes a nice crust of light on the pot."
    )


def test_a_finding_is_proposed_once_and_seen_wins_over_denied():
    story = "No bugs on the leaves last week. Today there are bugs on the leaves."
    assert read(story)["pests-on-leaves"] is True
