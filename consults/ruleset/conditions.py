"""Judges readings against the crop's bands: which reading conditions are true, false or unknown."""

import math
from collections.abc import Callable, Mapping
from typing import Protocol

from consults.ruleset.schema import BandEdge, Condition

ONSET = "onset_days"
"""Days since the trouble was first noticed: a number of the case, told and not measured."""
CASE_NUMBERS = frozenset({ONSET})
"""What a condition may compare besides readings; always with a bare number, for no crop has a band for it."""

# Differences smaller than this share of the edge are rounding: 6.3 + 0.1 is not exactly 6.4 in a computer.
_ROUNDING = 1e-9


class Band(Protocol):
    """Comfortable from low to high, tolerated from wide_low to wide_high, in the unit of the reading."""

    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def wide_low(self) -> float: ...
    @property
    def wide_high(self) -> float: ...


def condition_states(
    conditions: Mapping[str, Condition],
    readings: Mapping[str, float],
    band_of: Callable[[str], Band | None],
) -> dict[str, bool]:
    """Return {condition code: True or False} for every condition that can be judged, in order of code.

    `readings` holds measured and derived values by reading code, each in the stored unit of the reading,
    and the numbers of the case that are known (`CASE_NUMBERS`).
    `band_of` returns the crop's band for a reading code, or None. A condition is unknown, and left out,
    when its reading is missing or the edge it names belongs to a band the crop does not have.

    "above" means beyond the edge plus `by`, "below" means beneath the edge minus `by`. A reading exactly
    on the boundary is not beyond it, so the condition is False; rounding in the last digits counts as on
    it. Raises `ValueError` naming the reading when a value is not a finite number.
    """
    states: dict[str, bool] = {}
    for code, condition in sorted(conditions.items()):
        value = readings.get(condition.reading)
        if value is None:
            continue
        if not math.isfinite(value):
            raise ValueError(f"The reading '{condition.reading}' is {value}; a finite number is needed.")
        boundary = _boundary(condition, band_of)
        if boundary is not None:
            beyond = (
                value - boundary if condition.above or condition.above_value is not None else boundary - value
            )
            states[code] = beyond > _ROUNDING * max(1.0, abs(boundary))
    return states


def _boundary(condition: Condition, band_of: Callable[[str], Band | None]) -> float | None:
    """Return the value that the reading must lie beyond, or None where the crop has no such band."""
    if condition.above_value is not None:
        return condition.above_value
    if condition.below_value is not None:
        return condition.below_value
    band = band_of(condition.reading)
    if band is None:
        return None
    if condition.above is not None:
        return _edge(band, condition.above) + condition.by
    assert condition.below is not None  # noqa: S101 - the schema has exactly one of the four
    return _edge(band, condition.below) - condition.by


def _edge(band: Band, edge: BandEdge) -> float:
    return float(getattr(band, edge))
