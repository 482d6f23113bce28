"""From chosen causes to a draft plan: actions merged, ordered, with quantities for this garden.

Nothing is written; the services do that.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from types import MappingProxyType

from consults.cases.facts import Facts
from consults.choices import When
from consults.plans.order import TIMES, Line, by_worth, in_order, waiting
from consults.plans.quantities import Worked, work_out
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Action, BandEdge, Cause, Only
from garden.wording import Wording

# A plan with fifteen lines is not done at all. What goes beyond stays in the draft, not ticked; judgement.
MOST_INCLUDED = {When.TODAY: 4, When.THIS_WEEK: 3, When.LATER: 1}


@dataclass(frozen=True)
class DraftAction:
    """One line of a draft: the action, the causes that ask for it, and its quantity worked out.

    `when` is later than the action's own time while the line waits for the first look at `waits_for`.
    `words` is the shop's own wording of the action, empty when the rules' words stand.
    """

    action: Action
    causes: tuple[str, ...]
    worked: Worked | None
    included: bool
    when: When
    waits_for: str = ""
    words: str = ""


@dataclass(frozen=True)
class Conflict:
    """Two actions that contradict each other; staff keep one."""

    first: str
    second: str


@dataclass(frozen=True)
class Draft:
    actions: tuple[DraftAction, ...]
    look_again_days: int


def build_draft(
    causes: Sequence[str],
    facts: Facts,
    ruleset: Ruleset,
    wording: Wording,
    own_words: Mapping[tuple[str, str], str] = MappingProxyType({}),
) -> Draft:
    """Return the draft for the chosen causes, likeliest first.

    The same action asked for by two causes stands once, at the earlier time, in the order of
    `consults.plans.order`. Where two actions contradict each other the one of the likelier cause is kept and
    the other left out, for staff to judge. Only so many lines are included as people will do
    (`MOST_INCLUDED`); the rest stays there to be ticked. A remedy that would hide behind another waits for
    the first look. `own_words` are the shop's words by cause and action; the likelier cause's stand.
    """
    chosen = [ruleset.causes[code] for code in causes]
    lines = in_order([line for line in _merged(chosen) if applies(line.action, facts)], chosen)
    left_out = _left_out(lines, chosen)
    left_out |= _too_many([line for line in lines if line.code not in left_out], chosen)
    waits = waiting([line for line in lines if line.code not in left_out], chosen)
    speaks = _speakers(lines, left_out)
    drafted = [
        DraftAction(
            action=line.action,
            causes=line.causes,
            worked=work_out(line.action.quantity, facts, wording)
            if line.action.quantity and line.code in speaks
            else None,
            included=line.code not in left_out,
            when=When.LATER if line.code in waits else When(line.action.when),
            waits_for=waits.get(line.code, ""),
            words=next((own_words[c, line.code] for c in line.causes if (c, line.code) in own_words), ""),
        )
        for line in lines
    ]
    drafted.sort(key=lambda line: TIMES[line.when])
    return Draft(
        actions=tuple(drafted),
        look_again_days=min((cause.look_again_days for cause in chosen), default=7),
    )


def find_conflicts(actions: Sequence[tuple[str, Sequence[str]]]) -> list[Conflict]:
    """Return the pairs that contradict among (code, codes it opposes) of actions kept in a plan."""
    pairs = {
        tuple(sorted((code, other)))
        for code, opposed in actions
        for other, _opposed in actions
        if other != code and other in opposed
    }
    return [Conflict(first, second) for first, second in sorted(pairs)]


def applies(action: Action, facts: Facts) -> bool:
    """Whether an action makes sense for these plants and is not answered already.

    What is not known of a case counts as fitting: staff see the line and judge.
    """
    only, planting = action.only, facts.case.planting
    named = (
        (only.systems, planting.system),
        (only.media, planting.medium),
        (only.crops, facts.crop.kind_of or planting.crop),
        (only.stages, planting.stage),
    )
    return (
        all(not wanted or value is None or value in wanted for wanted, value in named)
        and _fits_system(only, facts)
        and (not only.practices or bool(set(only.practices) & set(facts.case.practices)))
        and (only.reading is None or _lies_beyond(facts, only.reading, only.beyond))
        and not _answered(action, facts)
    )


def _fits_system(only: Only, facts: Facts) -> bool:
    system = facts.reference.systems.get(facts.case.planting.system or "")
    if system is None:
        return True
    has_tank = system.recirculating or facts.case.planting.reservoir_l is not None
    return (only.reservoir is None or only.reservoir == has_tank) and (
        only.container is None or only.container == system.container
    )


def _lies_beyond(facts: Facts, reading: str, edge: BandEdge | None) -> bool:
    known, band = facts.known.get(reading), facts.band(reading)
    if known is None or known.origin == "estimated" or band is None or edge is None:
        return True  # an estimate does not rule a remedy out
    limit = float(getattr(band, edge))
    return known.value > limit if edge.endswith("high") else known.value < limit


def _answered(action: Action, facts: Facts) -> bool:
    looked_at = {*facts.case.present, *facts.case.absent}
    measured = {code for code, known in facts.known.items() if known.origin != "estimated"}
    return bool(looked_at & set(action.answered_by.findings) or measured & set(action.answered_by.readings))


def _merged(chosen: Sequence[Cause]) -> Iterator[Line]:
    asked: dict[str, list[tuple[Action, str]]] = {}
    for cause in chosen:
        for action in cause.actions:
            asked.setdefault(action.code, []).append((action, cause.code))
    for requests in asked.values():
        earliest = min((action for action, _code in requests), key=lambda action: TIMES[action.when])
        yield Line(earliest, tuple(code for _action, code in requests))


def _speakers(lines: Sequence[Line], left_out: set[str]) -> set[str]:
    """Codes of the actions that carry their quantity: one for each quantity, an included one first."""
    first: dict[str, str] = {}
    for line in sorted(lines, key=lambda line: line.code in left_out):
        if line.action.quantity:
            first.setdefault(line.action.quantity, line.code)
    return set(first.values())


def _too_many(kept: Sequence[Line], chosen: Sequence[Cause]) -> set[str]:
    """Codes beyond what one plan should ask for. Causes take turns, so that none is left without a line."""
    included: set[str] = set()
    worth = by_worth(kept, chosen)
    for when, most in MOST_INCLUDED.items():
        queues = [
            [line.code for line in worth if line.action.when == when and cause.code in line.causes]
            for cause in chosen
        ]
        turns = [code for turn in zip_longest(*queues) for code in turn if code is not None]
        included |= set(list(dict.fromkeys(turns))[:most])
    return {line.code for line in kept} - included


def _left_out(lines: Sequence[Line], chosen: Sequence[Cause]) -> set[str]:
    """Codes to leave out so that no two kept actions contradict: the likelier cause is heard first."""
    rank = {cause.code: place for place, cause in enumerate(chosen)}
    kept: list[tuple[str, Sequence[str]]] = []
    dropped: set[str] = set()
    for line in sorted(lines, key=lambda line: min(rank[code] for code in line.causes)):
        if find_conflicts([*kept, (line.code, line.action.opposes)]):
            dropped.add(line.code)
        else:
            kept.append((line.code, line.action.opposes))
    return dropped
