"""From chosen causes to a draft: merged, in order, without contradictions, no longer than people will do."""

import json
from collections import Counter
from typing import Any

import pytest

from consults.cases.facts import gather
from consults.plans.building import MOST_INCLUDED, Draft, applies, build_draft, find_conflicts
from consults.plans.quantities import all_quantities
from consults.ruleset.loader import Ruleset, load_bundled
from garden.reference.loader import load_reference
from garden.wording import Wording
from tests.consults.cases.samples import casefile
from tests.consults.ruleset.small_ruleset import _action, _cause, entries

RULES, REFERENCE = load_bundled(), load_reference()
ALL = sorted(RULES.causes)
ORDER = {"today": 0, "this-week": 1, "later": 2}


def draft(causes: list[str], rules: Ruleset = RULES, **parts: Any) -> Draft:
    return build_draft(causes, gather(casefile(**parts), REFERENCE), rules, Wording())


def small(*causes: dict[str, Any]) -> Ruleset:
    """Invented rules with these causes."""
    return Ruleset.from_json(json.dumps({**entries(), "causes": list(causes)}))


def codes(found: Draft, *, included: bool | None = None) -> list[str]:
    return [line.action.code for line in found.actions if included is None or line.included == included]


def test_one_cause_gives_all_its_actions() -> None:
    found = draft(["overwatering"])
    assert set(codes(found)) == {action.code for action in RULES.causes["overwatering"].actions}
    assert {line.causes for line in found.actions} == {("overwatering",)}
    assert found.look_again_days == RULES.causes["overwatering"].look_again_days


def test_no_causes_give_an_empty_draft() -> None:
    assert draft([]) == Draft(actions=(), look_again_days=7)


def test_an_action_two_causes_ask_for_stands_once_at_the_earlier_time() -> None:
    rules = small(
        _cause("flood", actions=[_action("dry-out", when="later")]),
        _cause("gnats", actions=[_action("dry-out", when="today")], look_again_days=2),
    )
    found = draft(["flood", "gnats"], rules)
    assert [(line.action.code, line.action.when, line.causes) for line in found.actions] == [
        ("dry-out", "today", ("flood", "gnats"))
    ]
    assert found.look_again_days == 2


def test_the_order_is_time_then_urgency_then_what_needs_no_buying() -> None:
    rules = small(
        _cause("calm", urgency=1, actions=[
            _action("calm-buy", buys=True), _action("calm-do"), _action("calm-week", when="this-week"),
        ]),
        _cause("grave", urgency=3, actions=[_action("grave-later", when="later"), _action("grave-do")]),
    )  # fmt: skip
    assert codes(draft(["calm", "grave"], rules)) == [
        "grave-do", "calm-do", "calm-buy", "calm-week", "grave-later",
    ]  # fmt: skip


def test_of_two_contradicting_actions_the_likelier_causes_is_kept() -> None:
    rules = small(
        _cause("flood", actions=[_action("do-flood")]),
        _cause("drought", actions=[_action("water", opposes=["do-flood"])]),
    )
    assert codes(draft(["flood", "drought"], rules), included=True) == ["do-flood"]
    assert codes(draft(["drought", "flood"], rules), included=True) == ["water"]
    assert set(codes(draft(["flood", "drought"], rules))) == {"do-flood", "water"}


def test_a_contradiction_holds_both_ways_and_only_between_two_actions() -> None:
    found = find_conflicts([("a", ["b"]), ("b", []), ("c", ["c", "missing"])])
    assert [(pair.first, pair.second) for pair in found] == [("a", "b")]
    assert find_conflicts([("b", []), ("a", ["b"])]) == found


@pytest.mark.parametrize("when", ["today", "this-week", "later"])
def test_only_as_many_lines_are_included_as_people_will_do_and_the_rest_can_be_ticked(when: str) -> None:
    most = {str(key): value for key, value in MOST_INCLUDED.items()}[when]
    rules = small(_cause("flood", actions=[_action(f"step-{at}", when=when) for at in range(9)]))
    found = draft(["flood"], rules)
    assert len(codes(found)) == 9
    assert codes(found, included=True) == [f"step-{at}" for at in range(most)]


def test_causes_take_turns_so_that_none_is_left_without_a_line() -> None:
    rules = small(
        *(
            _cause(f"cause-{c}", urgency=3 - c, actions=[_action(f"do-{c}-{at}") for at in range(5)])
            for c in range(3)
        )
    )
    included = codes(draft(["cause-0", "cause-1", "cause-2"], rules), included=True)
    assert sorted(included) == ["do-0-0", "do-0-1", "do-1-0", "do-2-0"]


def test_a_quantity_is_said_once_by_a_line_that_is_included() -> None:
    rules = small(
        _cause("flood", urgency=3, actions=[_action("against", opposes=["first"], quantity="ph-target")]),
        _cause(
            "drought",
            actions=[_action("first", quantity="ph-target"), _action("second", quantity="ph-target")],
        ),
    )
    found = draft(["drought", "flood"], rules)
    said = {line.action.code: (line.included, line.worked is not None) for line in found.actions}
    assert said == {"against": (False, False), "first": (True, True), "second": (True, False)}


@pytest.mark.parametrize(
    "chosen", [["overwatering", "high-root-zone-ph"], ["heat-stress", "low-humidity"], ALL[:6]]
)
def test_no_quantity_stands_twice_in_a_draft_of_the_bundled_rules(chosen: list[str]) -> None:
    found = draft(chosen, planting={"container_l": 5, "medium": "coco"})
    said = Counter(line.worked.code for line in found.actions if line.worked)
    assert set(said.values()) <= {1}
    assert set(said) == {line.action.quantity for line in found.actions if line.action.quantity}


@pytest.mark.parametrize("code", ALL)
def test_every_action_of_every_cause_can_stand_in_a_plan(code: str) -> None:
    cause, given = RULES.causes[code], gather(casefile(), REFERENCE)
    found = draft([code])
    assert set(codes(found)) == {action.code for action in cause.actions if applies(action, given)}
    assert codes(found, included=True), "a plan for one cause has something to do"
    for line in found.actions:
        assert len(line.action.text["en"]) <= 600
        assert len(line.action.why["en"]) <= 400
        assert line.action.stop_when is None or len(line.action.stop_when["en"]) <= 400
        assert set(line.action.cautions) <= set(RULES.cautions)
        if line.action.quantity:
            assert line.action.quantity in all_quantities()


@pytest.mark.parametrize("first", ALL)
def test_what_is_included_never_contradicts_itself_and_stands_in_order(first: str) -> None:
    for second in ALL:
        if second == first:
            continue
        found = draft([first, second])
        kept = [(line.action.code, line.action.opposes) for line in found.actions if line.included]
        assert find_conflicts(kept) == []
        times = [ORDER[line.when] for line in found.actions]
        assert times == sorted(times)
        assert len(set(codes(found))) == len(codes(found))
        per_time = Counter(line.action.when for line in found.actions if line.included)
        assert all(per_time[str(when)] <= most for when, most in MOST_INCLUDED.items())
        assert any(first in line.causes for line in found.actions if line.included)
