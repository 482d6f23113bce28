"""Reference cases in two halves: rules are tuned on the seen half only, the unseen half judges them.

The half of a case follows from its id alone, so nobody chooses it. Pure: no Django, no files.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Half = Literal["seen", "unseen"]
HALVES: tuple[Half, ...] = ("seen", "unseen")
PLACES = 3  # how far down the list an expected cause still counts as found
SHOWN = 5  # causes told of a failed case


def half_of(case_id: str) -> Half:
    """Return the half of a case by its id (the stem of its file name): seen when its SHA-256 is even."""
    last = hashlib.sha256(case_id.encode()).digest()[-1]
    return "unseen" if last % 2 else "seen"


@dataclass(frozen=True)
class Judged:
    """One reference case: the causes it expects, and (code, probability) as ranked, likeliest first."""

    id: str
    expected: tuple[str, ...]
    ranked: tuple[tuple[str, float], ...]

    @property
    def half(self) -> Half:
        """The half the case belongs to."""
        return half_of(self.id)

    @property
    def top1(self) -> bool:
        """Whether the first ranked cause is one of the expected."""
        return self._among(1) > 0

    @property
    def top3(self) -> bool:
        """Whether an expected cause is among the first three."""
        return self._among(PLACES) > 0

    @property
    def recall(self) -> float:
        """Share of the expected causes found among the first three, 0 to 1; 0 when none is expected."""
        return self._among(PLACES) / max(1, len(set(self.expected)))

    @property
    def failed(self) -> bool:
        """Whether the first cause is not expected, or one of several expected is not in the first three."""
        return not self.top1 or (len(set(self.expected)) > 1 and self.recall < 1)

    def _among(self, places: int) -> int:
        return len(set(self.expected) & {code for code, _ in self.ranked[:places]})


@dataclass(frozen=True)
class Score:
    """How a set of cases was ranked: shares from 0 to 1, None where there is no case to judge by.

    `two_cause_recall` is the mean `recall` of the cases that expect two causes or more.
    """

    n: int
    top1: float | None
    top3: float | None
    two_cause_recall: float | None


def score(cases: Iterable[Judged]) -> Score:
    """Return the shares over `cases`; an empty set scores None."""
    judged = list(cases)
    double = [case.recall for case in judged if len(set(case.expected)) > 1]
    return Score(
        n=len(judged),
        top1=_mean([case.top1 for case in judged]),
        top3=_mean([case.top3 for case in judged]),
        two_cause_recall=_mean(double),
    )


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
