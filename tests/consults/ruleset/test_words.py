"""Findings proposed from what growers say. The sentences are ours; common practice, no source."""

import pytest

from consults.ruleset import spoken
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


@pytest.mark.parametrize(
    ("story", "code", "present"),
    [
        ("The bottom ones on my pepper look droopy and the pot is heavy.", "wilting-medium-moist", True),
        ("Newest foliage comes out lemon all over.", "chlorosis-uniform-young", True),
        ("I looked for tiny moving dots and found none.", "mites-underside", False),
        ("I don't know why, the tips of the leaves went brown.", "tip-necrosis", True),
    ],
)
def test_other_words_of_the_same_family_say_the_same(story, code, present):
    assert read(story)[code] is present


def test_a_longer_phrase_at_the_same_place_swallows_a_shorter_one():
    found = read("New leaves are yellow with green veins, old ones look fine.")
    assert found["interveinal-chlorosis-young"] is True
    assert "chlorosis-uniform-young" not in found
    assert "interveinal-chlorosis-older" not in found


def test_a_word_stands_in_one_family_only(tmp_path, monkeypatch):
    file = tmp_path / "word_families.yaml"
    file.write_text("alone: []\nen:\n  wilt: [droop]\n  sad: [drooping]\n", encoding="utf-8")
    monkeypatch.setattr(spoken, "_FILE", file)
    with pytest.raises(ValueError, match=r"word_families.yaml: sad: 'drooping' stands in 'wilt' too"):
        spoken.families.__wrapped__()
