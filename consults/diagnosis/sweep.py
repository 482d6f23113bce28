"""The exact core: a table over which present findings are already explained ("lit").

Only positive terms are added and multiplied, so no digits cancel however strange the evidence is. The
textbook inclusion-exclusion over subsets of the present findings loses all digits on improbable evidence.

A plan goes through the present findings one after another. A finding enters the table with its leak
before the first cause that touches it is folded in, and leaves it after the last one, when only the half
in which it is lit is kept. Findings that no chain of causes connects therefore never share a table:
independent groups fall apart by themselves, and the table has 2^width entries, width being the most
findings that are open at once.

Why nothing underflows: the forward table is rescaled to sum 1 whenever a finding leaves, the backward
table is kept at 1 in its last entry, which is its largest because more lit findings never hurt. The
products that are summed are then at least the product of the leaks of the open findings, 1e-6 ** 18 at
worst, far above what a double can hold, while what is lost below 1e-308 is smaller by two hundred powers
of ten.
"""

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.network import Floats, Network

MAX_STORED_BYTES = 48_000_000  # forward tables kept at once, before a batch is cut


@dataclass(frozen=True)
class _Enter:
    leak: float


@dataclass(frozen=True)
class _Fold:
    cause: int
    strengths: tuple[tuple[int, float], ...]  # (bit of an open finding, strength)


@dataclass(frozen=True)
class _Leave:
    bit: int  # of the table
    finding: int  # place among the present findings


@dataclass(frozen=True, eq=False)
class Plan:
    """The order in which findings enter, causes are folded in and findings leave."""

    steps: tuple[_Enter | _Fold | _Leave, ...]
    width: int
    entries: int  # of all forward tables that must be kept


def make_plan(network: Network, present: NDArray[np.intp]) -> Plan:
    """Return a plan for the sorted positions `present` that keeps few findings open at once.

    The next finding to be closed is the one whose causes open the fewest others, among the open ones if
    there are any; the first of equals. Plans are kept: ranking, reasons and checks of a case share one.
    """
    return _kept_plan(network, tuple(present.tolist()))


@functools.lru_cache(maxsize=128)
def _kept_plan(network: Network, present: tuple[int, ...]) -> Plan:
    return passing_plan(network, present)


def passing_plan(network: Network, present: tuple[int, ...]) -> Plan:
    """Return the same plan as `make_plan` without keeping it: for cases that are never asked about again."""
    touching = [np.flatnonzero(network.strength[:, at]).tolist() for at in present]
    masks: dict[int, int] = {}
    for bit, causes in enumerate(touching):
        for cause in causes:
            masks[cause] = masks.get(cause, 0) | 1 << bit
    around = [(1 << bit) for bit in range(len(touching))]
    for bit, causes in enumerate(touching):
        for cause in causes:
            around[bit] |= masks[cause]
    builder = _Builder(network, present)
    todo = list(range(len(touching)))
    while todo:
        candidates = [bit for bit in todo if builder.entered >> bit & 1] or todo
        nearest = min(candidates, key=lambda bit: ((around[bit] & ~builder.entered).bit_count(), bit))
        for cause in touching[nearest]:
            builder.fold(cause, masks[cause])
        builder.enter(1 << nearest)
        todo = [bit for bit in todo if not builder.leave_if_done(bit, touching[bit])]
    return builder.plan()


class _Builder:
    """Keeps the books of a plan: which findings are open and on which bit of the table each stands."""

    def __init__(self, network: Network, present: tuple[int, ...]) -> None:
        self._network = network
        self._present = present
        self._open: list[int] = []
        self._folded: set[int] = set()
        self._steps: list[_Enter | _Fold | _Leave] = []
        self._width = 0
        self._entries = 0
        self.entered = 0

    def enter(self, mask: int) -> None:
        for bit in range(len(self._present)):
            if (mask & ~self.entered) >> bit & 1:
                self._open.append(bit)
                self._steps.append(_Enter(float(self._network.leak[self._present[bit]])))
        self.entered |= mask
        self._width = max(self._width, len(self._open))

    def fold(self, cause: int, mask: int) -> None:
        if cause in self._folded:
            return
        self.enter(mask)
        self._folded.add(cause)
        row = self._network.strength[cause]
        strengths = tuple(
            (place, float(row[self._present[bit]])) for place, bit in enumerate(self._open) if mask >> bit & 1
        )
        self._steps.append(_Fold(cause, strengths))
        self._entries += 1 << len(self._open)

    def leave_if_done(self, bit: int, causes: list[int]) -> bool:
        if not (self.entered >> bit & 1 and self._folded.issuperset(causes)):
            return False
        self._steps.append(_Leave(self._open.index(bit), bit))
        self._open.remove(bit)
        return True

    def plan(self) -> Plan:
        return Plan(tuple(self._steps), self._width, self._entries)


def sweep(plan: Plan, log_odds: Floats, left_out: NDArray[np.intp] | None = None) -> tuple[Floats, Floats]:
    """Return the effect of the present findings on a batch of causes.

    `log_odds` (B, C): of every cause without the present findings. `left_out` (B,): for each row the one
    present finding that does not count there, by its place among the sorted present ones, or -1. The first
    result (B, C) is what the present findings add to the log-odds, the second (B,) the natural logarithm
    of their joint probability.

    A finding is left out of a row by keeping both halves of the table, lit or not, when it leaves: it is
    summed out like any finding not looked at. So one pass gives the answer without each finding in turn,
    and still only positive terms are added.
    """
    if left_out is None:
        left_out = np.full(len(log_odds), -1, dtype=np.intp)
    rows = max(1, MAX_STORED_BYTES // (8 * max(plan.entries, 1)))
    gains = np.zeros_like(log_odds)
    log_probability = np.zeros(len(log_odds))
    for start in range(0, len(log_odds), rows):
        part = slice(start, start + rows)
        gains[part], log_probability[part] = _sweep_rows(plan, log_odds[part], left_out[part])
    return gains, log_probability


def probability_of_present(plan: Plan, log_odds: Floats) -> Floats:
    """Return the second result of `sweep` alone, (B,): half the work."""
    none_left_out = np.full(len(log_odds), -1, dtype=np.intp)
    return _sweep_on(plan, _expit(log_odds), _expit(-log_odds), None, none_left_out)


def _sweep_rows(plan: Plan, log_odds: Floats, left_out: NDArray[np.intp]) -> tuple[Floats, Floats]:
    on, off = _expit(log_odds), _expit(-log_odds)
    kept: list[Floats] = []
    log_probability = _sweep_on(plan, on, off, kept, left_out)
    return _sweep_back(plan, on, off, kept, left_out), log_probability


def _sweep_on(
    plan: Plan, on: Floats, off: Floats, kept: list[Floats] | None, left_out: NDArray[np.intp]
) -> Floats:
    table = np.ones((len(on), 1))
    log_probability = np.zeros(len(on))
    for step in plan.steps:
        if isinstance(step, _Enter):
            table = np.concatenate([table * (1 - step.leak), table * step.leak], axis=1)
        elif isinstance(step, _Fold):
            if kept is not None:
                kept.append(table)
            table = off[:, step.cause, None] * table + on[:, step.cause, None] * _lit(table, step)
        else:
            halves = _split(table, step.bit)
            table = halves[:, :, 1].reshape(len(table), -1)
            for row in np.flatnonzero(left_out == step.finding):
                table[row] += halves[row, :, 0].reshape(-1)
            total = table.sum(axis=1)
            table = table / total[:, None]
            log_probability += np.log(total)
    return log_probability


def _sweep_back(
    plan: Plan, on: Floats, off: Floats, kept: list[Floats], left_out: NDArray[np.intp]
) -> Floats:
    gains = np.zeros_like(on)
    table = np.ones((len(on), 1))
    for step in reversed(plan.steps):
        if isinstance(step, _Enter):
            half = table.shape[1] // 2
            table = (1 - step.leak) * table[:, :half] + step.leak * table[:, half:]
            table /= table[:, -1:]
        elif isinstance(step, _Fold):
            before = kept.pop()
            with_cause = _still_to_light(table, step)
            true = np.einsum("bs,bs->b", before, with_cause)
            false = np.einsum("bs,bs->b", before, table)
            gains[:, step.cause] = np.log(true) - np.log(false)
            table = off[:, step.cause, None] * table + on[:, step.cause, None] * with_cause
        else:
            wider = np.zeros((len(on), 2 * table.shape[1]))
            halves = _split(wider, step.bit)
            halves[:, :, 1] = table.reshape(len(on), -1, 1 << step.bit)
            for row in np.flatnonzero(left_out == step.finding):
                halves[row, :, 0] = halves[row, :, 1]
            table = wider
    return gains


def _lit(table: Floats, step: _Fold) -> Floats:
    """Distribution of what is lit after a true cause had its chance to light its findings."""
    result = table.copy()
    for bit, strength in step.strengths:
        halves = _split(result, bit)
        halves[:, :, 1] += strength * halves[:, :, 0]
        halves[:, :, 0] *= 1 - strength
    return result


def _still_to_light(table: Floats, step: _Fold) -> Floats:
    """Chance that everything ends lit, for what is lit before a true cause had its chance."""
    result = table.copy()
    for bit, strength in step.strengths:
        halves = _split(result, bit)
        halves[:, :, 0] *= 1 - strength
        halves[:, :, 0] += strength * halves[:, :, 1]
    return result


def _split(table: Floats, bit: int) -> Floats:
    """View of a table (B, 2^n) as (B, higher bits, this bit, lower bits)."""
    return table.reshape(len(table), -1, 2, 1 << bit)


def _expit(values: Floats) -> Floats:
    result: Floats = np.exp(-np.logaddexp(0.0, -values))
    return result
