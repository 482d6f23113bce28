"""The declared order of a plan's lines, and which remedies wait for the first look."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consults.cases.facts import gather
from consults.plans.building import build_draft, find_conflicts
from consults.plans.order import TIMES, Line, Rung, in_order, rung_of, waiting
from consults.plans.ways import load_needs, load_ways, way_of
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference
from garden.wording import Wording
from tests.consults.cases.samples import casefile

RULES = load_bundled()
FACTS = gather(casefile(), load_reference())
CHOICES = st.lists(st.sampled_from(sorted(RULES.causes)), min_size=1, max_size=5, unique=True)
ACTIONS = {action.code: action for cause in RULES.causes.values() for action in cause.actions}


def lines_of(causes: list[str]) -> list[Line]:
    asked: dict[str, list[str]] = {}
    for cause in causes:
        for action in RULES.causes[cause].actions:
            asked.setdefault(action.code, []).append(cause)
    first = {a.code: a for cause in reversed(causes) for a in RULES.causes[cause].actions}
    return [Line(first[code], tuple(by)) for code, by in asked.items()]


# --- the order ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("code", "buys", "reversible", "rung"),
    [
        ("switch-off-burner", True, False, Rung.PEOPLE),
        ("isolate-plants", False, True, Rung.SPREAD),
        ("let-pot-dry", False, True, Rung.FREE),
        ("iron-chelate-drench", True, True, Rung.COSTS),
        ("discard-worst-plants", False, False, Rung.FINAL),
        ("a-line-of-our-own", False, True, Rung.FREE),
    ],
)
def test_people_first_then_spread_then_free_then_money_then_what_cannot_be_undone(
    code: str, buys: bool, reversible: bool, rung: Rung
) -> None:
    assert rung_of(code, buys=buys, reversible=reversible) == rung


def test_within_a_time_the_lines_of_a_plan_climb_the_rungs() -> None:
    found = build_draft(["pythium-root-rot", "aphids", "iron-deficiency"], FACTS, RULES, Wording())
    for time in TIMES:
        rungs = [
            rung_of(line.action.code, buys=line.action.buys, reversible=line.action.reversible)
            for line in found.actions
            if line.action.when == time and not line.waits_for
        ]
        assert rungs == sorted(rungs)


def test_throwing_plants_away_stands_last_but_is_not_crowded_out() -> None:
    found = build_draft(["basil-downy-mildew"], FACTS, RULES, Wording())
    today = [line for line in found.actions if line.when == "today" and line.included]
    assert today[-1].action.code == "bag-and-bin"
    assert not today[-1].action.reversible


@given(CHOICES, st.randoms(use_true_random=False))
def test_the_order_is_total_whatever_order_the_lines_come_in(causes: list[str], mixer: random.Random) -> None:
    chosen = [RULES.causes[code] for code in causes]
    lines = lines_of(causes)
    mixed = list(lines)
    mixer.shuffle(mixed)
    assert [line.code for line in in_order(mixed, chosen)] == [line.code for line in in_order(lines, chosen)]


@given(CHOICES)
def test_a_draft_is_the_same_each_time_and_keeps_no_two_lines_that_contradict(causes: list[str]) -> None:
    found = build_draft(causes, FACTS, RULES, Wording())
    assert found == build_draft(causes, FACTS, RULES, Wording())
    kept = [(line.action.code, line.action.opposes) for line in found.actions if line.included]
    assert find_conflicts(kept) == []
    codes = [line.action.code for line in found.actions]
    assert len(codes) == len(set(codes)), "asked for by two causes, it stands once"


# --- one change at a time -------------------------------------------------------------------------
def test_a_remedy_that_would_hide_behind_anothers_waits_for_the_first_look() -> None:
    lines = lines_of(["iron-deficiency", "nitrogen-deficiency"])
    found = waiting(lines, [RULES.causes["iron-deficiency"], RULES.causes["nitrogen-deficiency"]])
    assert found["feed-stronger"] in {
        action.code for action in RULES.causes["iron-deficiency"].actions if way_of(action.code).shows
    }
    assert "lower-ph" not in found, "the likelier cause goes first"


def test_remedies_of_one_cause_do_not_wait_for_each_other() -> None:
    assert waiting(lines_of(["iron-deficiency"]), [RULES.causes["iron-deficiency"]]) == {}


@given(CHOICES)
def test_what_waits_shares_a_place_but_no_cause_with_what_it_waits_for(causes: list[str]) -> None:
    found = build_draft(causes, FACTS, RULES, Wording())
    lines = {line.action.code: line for line in found.actions}
    for line in found.actions:
        if not line.waits_for:
            assert line.when == line.action.when
            continue
        ahead = lines[line.waits_for]
        assert (line.when, line.included) == ("later", True)
        assert ahead.included and not ahead.waits_for
        assert way_of(ahead.action.code).shows == way_of(line.action.code).shows
        assert not set(ahead.causes) & set(line.causes)
        assert way_of(line.action.code).aim is None, "what protects people or stops spread never waits"
        assert max(RULES.causes[code].urgency for code in line.causes) < 3


# --- the data -------------------------------------------------------------------------------------
def test_every_action_of_the_rules_says_how_to_know_that_it_worked() -> None:
    assert set(load_ways()) == set(ACTIONS)
    for code, way in load_ways().items():
        assert way.works and 0 < len(way.works["en"]) <= 400 and way.days, code


def test_needs_and_replacements_are_known_and_replacements_cost_nothing() -> None:
    for code, way in load_ways().items():
        assert set(way.needs) <= set(load_needs()), code
        assert all(not ACTIONS[other].buys for other in way.instead), code
        assert not way.instead or ACTIONS[code].buys, code
    assert all(way_of(code).needs for code, action in ACTIONS.items() if action.buys)


def test_only_what_is_thrown_away_cannot_be_undone_and_rules_without_the_word_keep_their_version() -> None:
    final = {code for code, action in ACTIONS.items() if not action.reversible}
    assert final == {
        "bag-and-bin", "bin-with-medium", "discard-rotted-cuttings", "discard-worst-plants",
        "harvest-bolters", "remove-crown-and-surface", "remove-patch",
    }  # fmt: skip
    assert "reversible" not in ACTIONS["let-pot-dry"].model_dump()
    assert ACTIONS["bag-and-bin"].model_dump()["reversible"] is False
