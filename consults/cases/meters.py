"""What a reading not yet taken, or a habit not yet asked about, might say. Pure: no Django, no database.

Rules say how a reading moves the odds of a cause, not how often gardens read so. The chance of each answer
is therefore **judgement**, stated here and nowhere else: before anything is seen, 6 gardens in 10 have no
condition of a reading true, and the other answers share the rest equally; 1 grower in 4 has a given habit.
What was seen then shifts these chances by Bayes' rule (`diagnosis.outlook.answers_by_odds`).
"""

import itertools
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from consults.cases.effort import ASK_MINUTES, Way, reading_effort
from consults.cases.facts import Facts, gather
from consults.ruleset.conditions import ONSET, condition_states
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Condition
from garden.reference.schema import Reading

NONE_TRUE = "within-bounds"
REPORTED, DENIED = "reported", "not-reported"
NOTHING_AMISS = 0.6  # share of gardens in which no condition of a reading is true
HAS_HABIT = 0.25  # share of growers with a given habit
_STEPS = 24  # values tried over the usual range, for readings from which others are computed
# A reading together with which another one is computed: (measured, other, computed).
_COMPUTED_FROM = (
    ("air_temp_c", "rh_percent", "vpd_kpa"),
    ("ppfd_umol_m2_s", "photoperiod_h", "dli_mol_m2_d"),
    ("runoff_ec_ms_cm", "feed_ec_ms_cm", "ec_rise_ms_cm"),
)
_ONSET_DAYS = (1.0, 7.0, 30.0)


@dataclass(frozen=True)
class FactAnswer:
    """One answer: what becomes true or false with it, and its chance before anything is seen."""

    code: str
    share: float
    states: Mapping[str, bool] = field(default_factory=dict)
    practices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Fact:
    """Something outside the list of findings that can still be measured or asked."""

    kind: str  # reading or practice
    code: str
    way: Way
    minutes: float
    answers: tuple[FactAnswer, ...]
    causes: tuple[str, ...]  # whose rules speak of it


def open_facts(facts: Facts, ruleset: Ruleset, about: Collection[str] | None) -> list[Fact]:
    """Return the readings not known and the habits not reported that bear on the causes `about`, by code.

    All causes when None. Readings that these plants cannot have (run-off without a pot) and derived ones
    are left out. A reading is left out too when every value leads to the same answer.
    """
    causes = [cause for code, cause in ruleset.causes.items() if about is None or code in about]
    conditions = {link.condition for cause in causes for link in cause.readings}
    habits = {link.practice for cause in causes for link in cause.practices}
    unknown = habits - set(facts.case.practices)
    return [*_readings(facts, ruleset, conditions), *_habits(ruleset, unknown)]


def can_be_read(reading: Reading, facts: Facts) -> bool:
    """Whether these plants have what the reading is taken from."""
    system = facts.reference.systems.get(facts.case.planting.system or "")
    if reading.derived or system is None:
        return not reading.derived
    if reading.place == "runoff":
        return system.container
    return reading.code != "dissolved_oxygen_mg_l" or system.recirculating


def _habits(ruleset: Ruleset, codes: Collection[str]) -> Iterator[Fact]:
    for code in sorted(codes):
        answers = (FactAnswer(REPORTED, HAS_HABIT, practices=(code,)), FactAnswer(DENIED, 1 - HAS_HABIT))
        moved = [
            c.code for c in ruleset.causes.values() if any(link.practice == code for link in c.practices)
        ]
        yield Fact("practice", code, "ask", ASK_MINUTES, answers, tuple(moved))


def _readings(facts: Facts, ruleset: Ruleset, wanted: Collection[str]) -> Iterator[Fact]:
    reached = {ruleset.conditions[code].reading for code in wanted}
    for code in sorted({*facts.reference.readings, ONSET} - set(facts.judged)):
        reading = facts.reference.readings.get(code)
        if reading is not None and not can_be_read(reading, facts):
            continue
        moved = {code, *(derived for derived, _other in _computed_with(code, facts))} & reached
        # All conditions of a reading become known with it, also those no cause in question asks for.
        rules = {c: rule for c, rule in ruleset.conditions.items() if rule.reading in {code, *moved}}
        answers = _answers(code, reading, facts, rules) if moved else ()
        if len(answers) > 1:
            causes = tuple(
                c.code for c in ruleset.causes.values() if any(link.condition in rules for link in c.readings)
            )
            yield Fact("reading", code, *reading_effort(code, reading), answers, causes)


def _computed_with(code: str, facts: Facts) -> list[tuple[str, str]]:
    """(computed reading, the other reading it needs) that measuring `code` makes known."""
    pairs = [(derived, b if a == code else a) for a, b, derived in _COMPUTED_FROM if code in (a, b)]
    return [(derived, other) for derived, other in pairs if other in facts.known]


def _answers(
    code: str, reading: Reading | None, facts: Facts, rules: Mapping[str, Condition]
) -> tuple[FactAnswer, ...]:
    """The different sets of conditions that some value of the reading makes true."""
    found: dict[str, Mapping[str, bool]] = {}
    for value in _values(code, reading, facts, rules):
        states = condition_states(rules, _values_with(code, value, facts), facts.band)
        true = "+".join(sorted(rule for rule, holds in states.items() if holds))
        if states:
            found.setdefault(true or NONE_TRUE, states)
    others = len(found) - (NONE_TRUE in found)
    amiss = 1 - NOTHING_AMISS if NONE_TRUE in found else 1.0
    return tuple(
        FactAnswer(name, NOTHING_AMISS if name == NONE_TRUE else amiss / others, states)
        for name, states in sorted(found.items())
    )


def _values(code: str, reading: Reading | None, facts: Facts, rules: Mapping[str, Condition]) -> list[float]:
    """Values that together reach every answer: one between each two neighbouring limits."""
    if reading is None:
        return list(_ONSET_DAYS)
    limits = {limit for rule in rules.values() if rule.reading == code for limit in _limits(rule, facts)}
    inner = {reading.usual_min, reading.usual_max, *limits}
    ends = sorted(value for value in inner if reading.min <= value <= reading.max)
    middles = [(low + high) / 2 for low, high in itertools.pairwise([reading.min, *ends, reading.max])]
    if _computed_with(code, facts):
        width = reading.usual_max - reading.usual_min
        middles += [reading.usual_min + width * step / _STEPS for step in range(_STEPS + 1)]
    return sorted(set(middles))


def _limits(rule: Condition, facts: Facts) -> Iterator[float]:
    if rule.above_value is not None:
        yield rule.above_value
    elif rule.below_value is not None:
        yield rule.below_value
    elif (band := facts.band(rule.reading)) is not None:
        by = rule.by if rule.above else -rule.by
        yield float(getattr(band, rule.above or rule.below or "high")) + by


def _values_with(code: str, value: float, facts: Facts) -> Mapping[str, float]:
    """The reading, and what is computed from it together with what is known already."""
    derived = _computed_with(code, facts)
    if not derived:
        return {code: value}
    others = {other: facts.known[other].value for _derived, other in derived}
    case = facts.case.model_copy(update={"readings": {**others, code: value}})
    known = gather(case, facts.reference).known
    return {name: known[name].value for name in (code, *(name for name, _other in derived)) if name in known}
