"""Which check comes next: what it settles per minute, what it would change, and whom it protects."""

from pathlib import Path

import numpy as np
import pytest

import consults.ruleset
from consults.cases.casefile import CaseFile, read_case_file
from consults.cases.checks import LEAST_CHANGE, OPEN_BITS, Advice, Reply, Step, advise
from consults.cases.decision import Decision, decide, same_deed
from consults.cases.effort import WAYS, per_minute, reading_effort
from consults.cases.facts import gather
from consults.cases.meters import HAS_HABIT, NONE_TRUE, NOTHING_AMISS, can_be_read, open_facts
from consults.cases.protect import PLAUSIBLE
from consults.cases.ranking import rank_case
from consults.diagnosis.network import Network
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile

RULES, REFERENCE = load_bundled(), load_reference()
FOLDER = Path(consults.ruleset.__file__).parent / "cases"
POT = {"crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot"}


def bundled(name: str) -> CaseFile:
    return read_case_file(FOLDER / f"{name}.json", REFERENCE, RULES)


def advice(case: CaseFile, unanswered=()) -> Advice:
    return advise(case, RULES, REFERENCE, unanswered=unanswered)


def step(found: Advice, kind: str, code: str) -> Step:
    return next(s for s in found.steps if (s.kind, s.code) == (kind, code))


# --- which checks there are -----------------------------------------------------------------------
def test_findings_readings_habits_and_laboratory_tests_stand_in_one_list():
    found = advice(bundled("walk-in"))
    assert {s.kind for s in found.steps} == {"finding", "reading", "practice", "laboratory"}


def test_what_is_known_or_was_refused_is_not_offered_again():
    case = casefile(planting=POT, present=["interveinal-chlorosis-young"])
    offered = {(s.kind, s.code) for s in advice(case).steps}
    assert ("reading", "root_zone_ph") in offered
    refused = {(s.kind, s.code) for s in advice(case, [("reading", "root_zone_ph")]).steps}
    assert refused == offered - {("reading", "root_zone_ph")}
    measured = casefile(planting=POT, present=["interveinal-chlorosis-young"], readings={"root_zone_ph": 7.4})
    assert ("reading", "root_zone_ph") not in {(s.kind, s.code) for s in advice(measured).steps}


def test_nothing_is_offered_that_the_plants_cannot_have():
    raft = casefile(planting={"crop": "lettuce", "system": "raft"}, present=["tip-necrosis"])
    offered = {s.code for s in advice(raft).steps}
    assert not any(code.startswith("runoff") for code in offered)
    assert "medium-stays-wet" not in offered


def test_answers_of_a_check_have_chances_that_sum_to_one():
    for found in advice(bundled("walk-in")).steps:
        assert sum(reply.chance for reply in found.replies) == pytest.approx(1.0, abs=1e-9)
        assert found.bits >= 0 and 0 <= found.changes <= 1 and found.minutes > 0


# --- readings not taken ---------------------------------------------------------------------------
def test_a_reading_has_one_answer_for_each_set_of_conditions_it_can_make_true():
    facts = gather(casefile(planting=POT), REFERENCE)
    (ph,) = (fact for fact in open_facts(facts, RULES, None) if fact.code == "root_zone_ph")
    names = {answer.code for answer in ph.answers}
    assert NONE_TRUE in names
    assert {"root-zone-ph-high", "root-zone-ph-high+root-zone-ph-very-high"} <= names
    assert {"root-zone-ph-low", "root-zone-ph-low+root-zone-ph-very-low"} <= names
    shares = {answer.code: answer.share for answer in ph.answers}
    assert shares[NONE_TRUE] == NOTHING_AMISS
    assert sum(shares.values()) == pytest.approx(1.0)
    others = [share for name, share in shares.items() if name != NONE_TRUE]
    assert others == pytest.approx([others[0]] * len(others))


def test_measuring_humidity_also_settles_what_follows_from_the_warmth_already_known():
    warm = gather(casefile(planting=POT, readings={"air_temp_c": 30}), REFERENCE)
    (humidity,) = (fact for fact in open_facts(warm, RULES, None) if fact.code == "rh_percent")
    assert any("vpd-high" in answer.code for answer in humidity.answers)
    unknown = gather(casefile(planting=POT), REFERENCE)
    (alone,) = (fact for fact in open_facts(unknown, RULES, None) if fact.code == "rh_percent")
    assert not any("vpd" in answer.code for answer in alone.answers)


def test_what_was_seen_makes_the_agreeing_reading_likelier():
    quiet = casefile(planting=POT, present=["leaf-drop-older"])
    pale = casefile(planting=POT, present=["interveinal-chlorosis-young"])

    def high(case: CaseFile) -> float:
        return sum(
            r.chance for r in step(advice(case), "reading", "root_zone_ph").replies if "ph-high" in r.code
        )

    expected = (1 - NOTHING_AMISS) / 2
    assert high(pale) > expected
    assert high(pale) > high(quiet)


def test_a_habit_is_asked_with_its_stated_chance():
    facts = gather(casefile(planting=POT), REFERENCE)
    habits = [fact for fact in open_facts(facts, RULES, {"overwatering"}) if fact.kind == "practice"]
    assert "waters-daily" in {fact.code for fact in habits}
    assert all(fact.answers[0].share == HAS_HABIT for fact in habits)
    daily = gather(casefile(planting=POT, practices=["waters-daily"]), REFERENCE)
    assert "waters-daily" not in {fact.code for fact in open_facts(daily, RULES, {"overwatering"})}


def test_only_facts_that_bear_on_the_causes_in_question_are_listed():
    facts = gather(casefile(planting=POT), REFERENCE)
    few = {fact.code for fact in open_facts(facts, RULES, {"iron-deficiency"})}
    assert few < {fact.code for fact in open_facts(facts, RULES, None)}
    assert "root_zone_ph" in few


@pytest.mark.parametrize(
    ("code", "system", "possible"),
    [
        ("runoff_ph", "raft", False),
        ("runoff_ph", "hand-watered-pot", True),
        ("runoff_ph", None, True),
        ("dissolved_oxygen_mg_l", "hand-watered-pot", False),
        ("dissolved_oxygen_mg_l", "deep-water", True),
        ("vpd_kpa", None, False),
        ("air_temp_c", "nft", True),
    ],
)
def test_a_reading_needs_the_place_it_is_taken_from(code, system, possible):
    planting = {"crop": "basil", **({"system": system} if system else {})}
    facts = gather(casefile(planting=planting), REFERENCE)
    assert can_be_read(REFERENCE.readings[code], facts) is possible


# --- what it costs --------------------------------------------------------------------------------
def test_ways_of_looking_run_from_a_question_to_a_laboratory():
    assert WAYS == ("ask", "glance", "hand-lens", "lift-pot", "roots", "meter", "laboratory")
    assert {finding.check for finding in RULES.findings.values()} <= set(WAYS)


@pytest.mark.parametrize(
    ("code", "way"),
    [("air_temp_c", "meter"), ("water_sodium_mg_l", "laboratory"), ("photoperiod_h", "ask")],
)
def test_every_reading_has_a_way_and_its_minutes(code, way):
    assert reading_effort(code, REFERENCE.readings[code])[0] == way
    assert all(reading_effort(c, r)[1] > 0 for c, r in REFERENCE.readings.items())


def test_the_onset_is_asked_and_half_a_minute_is_the_least_effort():
    assert reading_effort("onset_days", None) == ("ask", 0.5)
    assert per_minute(1.0, 0.01) == per_minute(1.0, 0.5) == 2.0


def test_more_bits_per_minute_come_first_among_checks_that_protect_nobody():
    rates = [s.bits_per_minute for s in advice(bundled("walk-in")).steps if s.protects is None]
    assert rates == sorted(rates, reverse=True)


# --- who is protected -----------------------------------------------------------------------------
def test_where_something_contagious_is_plausible_its_own_check_comes_first_with_the_reason():
    case = casefile(planting=POT, present=["stippling"])
    found = advice(case)
    assert found.steps[0].protects is not None
    for first in (s for s in found.steps if s.protects):
        cause = RULES.causes[first.protects]
        assert cause.contagious
        assert first.code in {link.finding for link in cause.findings}
        chance = next(c.probability for c in rank_case(case, RULES, REFERENCE).causes if c.code == cause.code)
        assert PLAUSIBLE[0] <= chance < PLAUSIBLE[1]
    assert rank_case(case, RULES, REFERENCE).checks[0].code == found.steps[0].code


def test_nothing_stands_first_for_protection_when_no_contagious_cause_is_plausible():
    case = casefile(planting=POT, present=["wilting-medium-dry"], absent=["wilting-medium-moist"])
    likely = {c.code for c in rank_case(case, RULES, REFERENCE).causes if c.probability >= PLAUSIBLE[0]}
    assert not any(RULES.causes[code].contagious for code in likely & set(RULES.causes))
    assert all(s.protects is None for s in advice(case).steps)


# --- what it changes ------------------------------------------------------------------------------
def small_network() -> Network:
    return Network(("a", "b"), ("f",), [0.1, 0.1], [0.01], [[0.5], [0.5]])


@pytest.mark.parametrize(
    ("marginals", "none", "first", "acted_on"),
    [
        ([0.6, 0.4], 0.1, "a", ("a", "b")),
        ([0.2, 0.34], 0.1, "b", ()),
        ([0.2, 0.35], 0.1, "b", ("b",)),
        ([0.5, 0.5], 0.1, "a", ("a", "b")),
        ([0.2, 0.3], 0.4, "none-of-these", ()),
    ],
)
def test_what_to_do_is_the_first_cause_and_all_probable_enough_to_act_on(marginals, none, first, acted_on):
    assert decide(small_network(), np.array(marginals), none) == Decision(first, acted_on)


def test_the_same_deed_needs_the_same_first_cause_and_the_same_actions():
    wet, dry = Decision("overwatering", ("overwatering",)), Decision("underwatering", ("underwatering",))
    assert same_deed(wet, wet, RULES)
    assert not same_deed(wet, dry, RULES)
    assert not same_deed(wet, Decision("overwatering", ("overwatering", "aphids")), RULES)
    assert not same_deed(wet, Decision("aphids", ("overwatering",)), RULES)


def test_the_chance_of_a_change_is_that_of_the_answers_that_lead_to_another_deed():
    found = advice(casefile(planting=POT, present=["interveinal-chlorosis-young"]))
    for s in found.steps:
        expected = sum(r.chance for r in s.replies if not same_deed(r.then, found.now, RULES))
        assert s.changes == pytest.approx(expected)


def _step(changes: float, bits: float = 0.1) -> Step:
    then = Decision("a", ())
    return Step("finding", "f", "glance", 1.0, bits, changes, (Reply("seen", 1.0, then),))


def test_asking_may_stop_when_no_single_check_has_one_chance_in_ten_to_change_anything():
    now = Decision("a", ())
    assert Advice(now, ()).settled
    assert Advice(now, (_step(LEAST_CHANGE - 1e-6), _step(0.0))).settled
    assert not Advice(now, (_step(0.0), _step(LEAST_CHANGE))).settled


def test_asking_goes_on_while_much_doubt_can_be_settled_though_no_single_answer_changes_anything():
    now = Decision("a", ())
    assert Advice(now, (_step(0.0, OPEN_BITS - 1e-6),)).settled
    assert not Advice(now, (_step(0.0, OPEN_BITS),)).settled


def test_the_answer_that_was_foreseen_comes_when_it_is_given():
    case = casefile(planting=POT, present=["interveinal-chlorosis-young", "stunting"])
    for s in [s for s in advice(case).steps if s.kind == "finding"][:6]:
        for reply, field in zip(s.replies, ("present", "absent"), strict=True):
            answered = case.model_copy(update={field: (*getattr(case, field), s.code)})
            assert advice(answered).now == reply.then
