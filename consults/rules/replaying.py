"""Two versions of the rules on the same cases: which rankings would be others. Pure: no Django."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from consults.cases.casefile import CaseFile
from consults.cases.ranking import assemble
from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.fit import word
from consults.diagnosis.inference import posterior
from consults.ruleset.loader import Ruleset
from garden.reference.schema import Reference

NOTICEABLE = 0.05  # a probability that moves less, within the same word, is not worth a line; judgement
EQUAL = 1e-9  # rounding of the engine
MOVES_KEPT = 4
# What matters most comes first, then by how far a probability moved (0 to 1).
LOST, GAINED, OTHER_FIRST = 4.0, 3.0, 2.0


@dataclass(frozen=True)
class Archived:
    """One case to be ranked: a row by its key, or a bundled case file by its name.

    `casefile` is None when the row cannot be read as one. `confirmed` holds the codes that count as right.
    """

    key: int | None
    file: str
    casefile: CaseFile | None
    confirmed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Moved:
    """One ranking that would be another: its first cause and chance before and after, what moved most."""

    key: int | None
    file: str
    before: tuple[str, float]
    after: tuple[str, float]
    moves: tuple[tuple[str, float, float], ...]
    confirmed: tuple[str, ...]
    agreed_before: bool | None
    agreed_after: bool | None
    weight: float


@dataclass
class Outcome:
    """What a number of cases came to. `slight`: moved, but not enough to be worth a line."""

    same: int = 0
    slight: int = 0
    unreadable: int = 0
    confirmed: int = 0
    agreed_before: int = 0
    agreed_after: int = 0
    moved: list[Moved] = field(default_factory=list)


def replay_chunk(cases: Iterable[Archived], before: Ruleset, after: Ruleset, reference: Reference) -> Outcome:
    """Return what ranking these cases by both rule sets comes to.

    A cause replaced in `after` counts as the one that bears its code as an alias. A case that cannot be
    ranked (its crop is gone, its row is no case file) is counted and left out. Cases are taken one by one.
    """
    outcome = Outcome()
    for case in cases:
        try:
            if case.casefile is None:
                raise ValueError("no case file")
            chances = [_chances(case.casefile, rules, reference) for rules in (before, after)]
        except (LookupError, ValueError):
            outcome.unreadable += 1
            continue
        _count(outcome, case, {_present(code, after): p for code, p in chances[0].items()}, chances[1], after)
    return outcome


def _chances(case: CaseFile, ruleset: Ruleset, reference: Reference) -> dict[str, float]:
    """The probability of every cause and of none, as `rank_case` gives them, without its reasons."""
    assembled = assemble(case, ruleset, reference)
    beliefs = posterior(assembled.network, assembled.evidence)
    return {**beliefs.marginals, NONE_OF_THESE: beliefs.none}


def _present(code: str, ruleset: Ruleset) -> str:
    return ruleset.cause_code(code) or code


def _first(chances: dict[str, float]) -> tuple[str, float]:
    code = min(chances, key=lambda code: (-chances[code], code))
    return code, chances[code]


def _count(
    outcome: Outcome, case: Archived, old: dict[str, float], new: dict[str, float], after: Ruleset
) -> None:
    was, now = _first(old), _first(new)
    right = {_present(code, after) for code in case.confirmed}
    agreed: tuple[bool | None, bool | None] = (was[0] in right, now[0] in right) if right else (None, None)
    if right:
        outcome.confirmed += 1
        outcome.agreed_before += bool(agreed[0])
        outcome.agreed_after += bool(agreed[1])
    moves = sorted(
        ((code, old.get(code, 0.0), new.get(code, 0.0)) for code in {**old, **new}),
        key=lambda move: (-abs(move[2] - move[1]), move[0]),
    )
    shift = abs(moves[0][2] - moves[0][1])
    if was[0] == now[0] and shift <= EQUAL:
        outcome.same += 1
    elif was[0] == now[0] and shift < NOTICEABLE and word(was[1]) == word(now[1]):
        outcome.slight += 1
    else:
        kept = tuple(move for move in moves[:MOVES_KEPT] if abs(move[2] - move[1]) > EQUAL)
        weight = _weight(agreed, was[0] != now[0]) + shift
        outcome.moved.append(
            Moved(case.key, case.file, was, now, kept, tuple(sorted(right)), *agreed, weight)
        )


def _weight(agreed: tuple[bool | None, bool | None], other_first: bool) -> float:
    if agreed == (True, False):
        return LOST
    if agreed == (False, True):
        return GAINED
    return OTHER_FIRST if other_first else 0.0
