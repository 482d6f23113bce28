"""Findings proposed from what growers say. The sentences are ours; common practice, no source."""

from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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


@pytest.mark.parametrize(
    ("story", "code", "present"),
    [
        ("No webs, no gnats on any of them.", "fine-webbing", False),
        ("It is not a single bug that I can find.", "pests-on-leaves", False),
        ("The leaves are free of webs.", "fine-webbing", False),
        ("I checked for thrips and shook the flowers, nothing.", "thrips-or-frass", False),
        ("The lower leaves are yellow. The young ones don't have it.", "chlorosis-uniform-young", False),
        ("The roots are white and strong.", "roots-brown-soft", False),
        ("The water smells fresh.", "roots-foul-smell", False),
    ],
)
def test_what_is_denied_in_other_ways_is_absent(story, code, present):
    assert read(story)[code] is present


@pytest.mark.parametrize(
    ("story", "code"),
    [
        ("I don't know why there are webs.", "fine-webbing"),
        ("It's not that I forget it, it droops in a dry pot.", "wilting-medium-dry"),
        ("I can't say how long the algae is on the cubes.", "algae-on-medium"),
    ],
)
def test_a_no_about_the_speaker_denies_nothing(story, code):
    assert read(story)[code] is True


@pytest.mark.parametrize(
    ("story", "code"),
    [
        ("Look at the lower leaves. They are quite yellow.", "chlorosis-uniform-older"),
        ("It droops all day. The soil is soaked.", "wilting-medium-moist"),
        (
            "The lower leaves, as I said last time, are yellow between the veins.",
            "interveinal-chlorosis-older",
        ),
    ],
)
def test_the_part_talked_of_is_carried_on(story, code):
    assert read(story)[code] is True


@pytest.mark.parametrize("typed", ["seedligns fall over", "seedlins fall over", "sedlings fall over"])
def test_one_slip_of_the_pen_is_forgiven(typed):
    assert read(typed)["stem-lesion-soil-line"] is True


def test_short_words_are_not_taken_for_others():
    assert "thrips-or-frass" not in read("The timer trips the fuse.")


def test_what_is_quoted_stands_in_the_story():
    story = "The lower leaves are fading. They are quite yellow, and I found no webs."
    for each in propose(story, load_bundled().findings):
        for piece in each.words.split(" … "):
            assert piece in story.lower()


def test_the_plain_words_of_every_finding_propose_it():
    findings = load_bundled().findings
    unread = [code for code, f in findings.items() if read(f.plain["en"]).get(code) is not True]
    assert unread == []


def test_what_is_told_by_absence_names_known_findings_and_is_absent_after_a_no():
    findings, known = load_bundled().findings, spoken.families()
    assert {*known.denials, *known.absences, *known.strict} <= set(findings)
    for code, phrases in known.denials.items():
        assert read(f"No {phrases[0]}.").get(code) is False, code
    for code, phrases in known.absences.items():
        assert read(phrases[0]).get(code) is False, code


STORIES = [
    "The lower leaves are yellow and the tips are brown, no webs.",
    "It droops, the pot is heavy. Little black flies come up.",
    "White powder on the leaves. Roots are not slimy.",
]


@settings(max_examples=20, deadline=None)
@given(st.permutations(sorted(load_bundled().findings)), st.sampled_from(STORIES))
def test_the_order_of_the_findings_changes_nothing(codes, story):
    findings = load_bundled().findings
    assert propose(story, {code: findings[code] for code in codes}) == propose(story, findings)


@pytest.mark.parametrize("story", STORIES)
def test_an_unrelated_sentence_changes_nothing(story):
    unrelated = "My sister sings in a choir."
    assert read(f"{story} {unrelated}") == read(story) == read(f"{unrelated} {story}")


@settings(max_examples=150, deadline=None)
@given(
    st.text(max_size=300)
    | st.lists(st.sampled_from(sorted(spoken.families().known) + list("., no'"))).map(" ".join)
)
def test_any_text_is_read_without_an_error(story):
    found = propose(story, load_bundled().findings)
    assert [each.code for each in found] == sorted({each.code for each in found})


def test_a_long_story_is_read_quickly():
    story = " ".join(STORIES * 10)
    read(story)
    start = process_time()
    read(story)
    assert len(story.split()) >= 250
    assert process_time() - start < 0.2  # about 5 ms on an idle machine


@pytest.mark.parametrize(
    ("story", "meant", "other"),
    [
        (
            "Yellow between the veins on the newest leaves, the older ones are dark green.",
            "interveinal-chlorosis-young",
            "interveinal-chlorosis-older",
        ),
        ("The edges of the upper leaves went brown.", "tipburn-young", "marginal-necrosis-older"),
        ("The roots are brown but firm.", "roots-brown-firm", "roots-brown-soft"),
    ],
)
def test_of_two_look_alikes_only_the_one_meant_is_proposed(story, meant, other):
    found = read(story)
    assert found[meant] is True
    assert found.get(other) is not True
