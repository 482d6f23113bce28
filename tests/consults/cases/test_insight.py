"""Reasons beyond the weights: not looked at, turning points, look-alikes."""

import math
from pathlib import Path

import pytest

import consults.ruleset
from consults.cases.casefile import CaseFile, read_case_file
from consults.cases.insight import EXPECTED_FROM, RIVAL_FROM, RIVALS, SEPARATORS, look_deeper
from consults.cases.ranking import rank_case
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile

RULES, REFERENCE = load_bundled(), load_reference()
FOLDER = Path(consults.ruleset.__file__).parent / "cases"
POT = {"crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot"}


def deeper(case: CaseFile):
    return look_deeper(case, RULES, REFERENCE)


def strengths(cause: str) -> dict[str, float]:
    return {link.finding: link.probability for link in RULES.causes[cause].findings}


def test_findings_a_cause_is_expected_to_show_and_nobody_looked_for_are_listed_strongest_first():
    case = casefile(planting=POT, present=["medium-stays-wet"], absent=["fungus-gnats"])
    found = deeper(case).unlooked["overwatering"]
    assert found
    known = strengths("overwatering")
    expected = {c for c, p in known.items() if p >= EXPECTED_FROM} - {"medium-stays-wet", "fungus-gnats"}
    assert {f.code for f in found} <= expected
    assert all(f.strength == known[f.code] and f.minutes > 0 for f in found)
    assert [f.strength for f in found] == sorted((f.strength for f in found), reverse=True)


def test_looking_takes_a_finding_off_the_list():
    case = casefile(planting=POT, present=["medium-stays-wet"])
    first = deeper(case).unlooked["overwatering"][0].code
    looked = case.model_copy(update={"absent": (first,)})
    after = deeper(looked).unlooked.get("overwatering", ())
    assert first not in {f.code for f in after}


@pytest.mark.parametrize("name", ["walk-in", "hot-dry-stippled", "new-leaves-yellow-high-ph"])
def test_every_turn_comes_true_when_its_answer_is_given(name):
    case = read_case_file(FOLDER / f"{name}.json", REFERENCE, RULES)
    found = deeper(case)
    turns = [turn for turn in found.turns if turn.kind == "finding"]
    assert turns
    before = found.advice.now.actions(RULES)
    for turn in turns[:8]:
        field = "present" if turn.answer == "seen" else "absent"
        answered = case.model_copy(update={field: (*getattr(case, field), turn.code)})
        now = deeper(answered).advice.now
        assert now.first == turn.first_after
        assert now.actions(RULES) == (before | set(turn.added)) - set(turn.dropped)
        assert turn.changes_first or turn.added or turn.dropped


def test_an_answer_that_is_no_turn_changes_neither_first_cause_nor_actions():
    case = read_case_file(FOLDER / "walk-in.json", REFERENCE, RULES)
    found = deeper(case)
    turning = {(turn.code, turn.answer) for turn in found.turns}
    for step in [s for s in found.advice.steps if s.kind == "finding"][:10]:
        for answer, field in (("seen", "present"), ("not-seen", "absent")):
            if (step.code, answer) not in turning:
                answered = case.model_copy(update={field: (*getattr(case, field), step.code)})
                now = deeper(answered).advice.now
                assert now.first == found.advice.now.first
                assert now.actions(RULES) == found.advice.now.actions(RULES)


def test_turns_come_likeliest_first():
    chances = [turn.chance for turn in deeper(casefile(planting=POT, present=["stippling"])).turns]
    assert chances == sorted(chances, reverse=True)


def test_look_alikes_share_something_seen_with_the_first_cause():
    case = casefile(planting=POT, present=["interveinal-chlorosis-young"])
    found = deeper(case).look_alikes
    chances = {c.code: c.probability for c in rank_case(case, RULES, REFERENCE).causes}
    assert 0 < len(found) <= RIVALS
    for pair in found:
        assert pair.first == max((c for c in chances if c in RULES.causes), key=lambda c: chances[c])
        assert chances[pair.rival] >= RIVAL_FROM
        assert "interveinal-chlorosis-young" in strengths(pair.rival)
    rivals = [chances[pair.rival] for pair in found]
    assert rivals == sorted(rivals, reverse=True)


def test_without_anything_seen_nothing_is_taken_for_something_else():
    assert deeper(casefile(planting=POT)).look_alikes == ()


def test_a_separator_weighs_what_the_two_causes_alone_would_show():
    case = casefile(planting=POT, present=["interveinal-chlorosis-young"])
    for pair in deeper(case).look_alikes:
        assert 0 < len(pair.separators) <= SEPARATORS
        one, other = strengths(pair.first), strengths(pair.rival)
        for separator in pair.separators:
            leak = RULES.findings[separator.code].leak
            if_one, if_other = (
                1 - (1 - leak) * (1 - known.get(separator.code, 0.0)) for known in (one, other)
            )
            assert separator.bits_if_seen == pytest.approx(math.log2(if_one / if_other), abs=1e-9)
            assert separator.bits_if_not == pytest.approx(math.log2((1 - if_one) / (1 - if_other)), abs=1e-9)
            assert separator.points_to_first == (if_one > if_other)
            assert separator.divergence > 0


def test_separators_still_to_be_looked_at_come_before_those_known():
    case = casefile(planting=POT, present=["interveinal-chlorosis-young", "stunting"], absent=["stippling"])
    for pair in deeper(case).look_alikes:
        known = [separator.state != "not-looked" for separator in pair.separators]
        assert known == sorted(known)
