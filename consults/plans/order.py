"""The declared order of the lines of a plan, and which of them wait for the first look. Knows no Django."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from consults.plans.ways import way_of
from consults.ruleset.schema import Action, Cause

TIMES = {"today": 0, "this-week": 1, "later": 2}
# A cause of this urgency costs the crop within days: its remedies never wait for a look. Judgement.
NEVER_WAITS = 3


class Rung(IntEnum):
    """What comes first among lines of the same time."""

    PEOPLE = 0  # protects people
    SPREAD = 1  # stops spread
    FREE = 2  # free and can be undone
    COSTS = 3  # costs money
    FINAL = 4  # cannot be undone


def rung_of(code: str, *, buys: bool, reversible: bool) -> Rung:
    """Return the rung of an action. People come first whatever it costs; what cannot be undone comes last."""
    aim = way_of(code).aim
    if aim == "people":
        return Rung.PEOPLE
    if not reversible:
        return Rung.FINAL
    if aim == "spread":
        return Rung.SPREAD
    return Rung.COSTS if buys else Rung.FREE


@dataclass(frozen=True)
class Line:
    """An action with the chosen causes that ask for it."""

    action: Action
    causes: tuple[str, ...]

    @property
    def code(self) -> str:
        return self.action.code


def in_order(lines: Sequence[Line], chosen: Sequence[Cause]) -> list[Line]:
    """Return the lines in the declared order: time, rung, urgency of the cause, the likelier cause, its own
    order. The code comes last, so that no two lines are ever equal."""
    return sorted(lines, key=lambda line: _key(line, chosen, line.action.reversible))


def by_worth(lines: Sequence[Line], chosen: Sequence[Cause]) -> list[Line]:
    """Return the lines as they compete for a place in a short plan: taking out what spreads counts as
    stopping spread, though its own line stands last."""
    return sorted(lines, key=lambda line: _key(line, chosen, True))


def waiting(acting: Sequence[Line], chosen: Sequence[Cause]) -> dict[str, str]:
    """Return which lines wait for the first look, each with the line it would hide behind.

    Two remedies of different causes that show in the same place hide each other: done together, nobody can
    tell which one helped. The remedy of the less likely cause waits. Nothing waits that protects people,
    stops spread, or belongs to a cause that costs the crop within days; what stands later anyway waits too.
    """
    rank = {cause.code: place for place, cause in enumerate(chosen)}
    urgency = {cause.code: cause.urgency for cause in chosen}
    now = [line for line in acting if line.action.when != "later" and _may_hide(line)]
    first: list[Line] = []
    waits: dict[str, str] = {}
    for line in sorted(now, key=lambda line: min(rank[code] for code in line.causes)):
        shows = way_of(line.code).shows
        ahead = next(
            (
                other.code
                for other in first
                if way_of(other.code).shows == shows and not set(other.causes) & set(line.causes)
            ),
            None,
        )
        if ahead is None or max(urgency[code] for code in line.causes) >= NEVER_WAITS:
            first.append(line)
        else:
            waits[line.code] = ahead
    return waits


def _may_hide(line: Line) -> bool:
    way = way_of(line.code)
    return way.shows is not None and way.aim is None


def _key(line: Line, chosen: Sequence[Cause], reversible: bool) -> tuple[int, int, int, int, int, str]:
    action = line.action
    urgency = max(cause.urgency for cause in chosen if cause.code in line.causes)
    rank = min(place for place, cause in enumerate(chosen) if cause.code in line.causes)
    place = next(at for at, own in enumerate(chosen[rank].actions) if own.code == action.code)
    rung = rung_of(action.code, buys=action.buys, reversible=reversible)
    return TIMES[action.when], rung, -urgency, rank, place, action.code
