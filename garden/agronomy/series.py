"""Readings over time: how long a value stayed inside its band."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from garden.agronomy.errors import AgronomyError, check_above

MOST_SAMPLES = 200_000


class SeriesError(AgronomyError):
    """A series of readings that cannot be read as time going forward."""


@dataclass(frozen=True)
class BandHours:
    """Hours below, inside and above a band; `unknown_h` are gaps too long to be bridged."""

    below_h: float
    inside_h: float
    above_h: float
    unknown_h: float


def hours_outside_band(
    samples: Sequence[tuple[float, float]], low: float | None, high: float | None, max_gap_h: float = 1.0
) -> BandHours:
    """Return for how many hours a reading lay below, inside and above its band.

    `samples` are pairs of a time in hours (any start, strictly rising, at least two) and a value; spacing
    may be irregular. Between two samples the value is taken as a straight line; two samples further apart
    than `max_gap_h` (above 0 to 48 h) are not bridged and count as unknown. `low` and `high` are the edges
    of the band, None for an open side; a value on an edge is inside. Raises SeriesError when the samples
    are too few, too many, not finite or not in order, or when `low` is above `high`; OutOfRange for the gap.
    Source: linear interpolation.
    """
    gap = check_above("max_gap_h", max_gap_h, 0, 48, "h")
    times, values = _columns(samples)
    if low is not None and high is not None and not low <= high:
        raise SeriesError(f"low is {low:g} and high is {high:g}; low must not be above high. Swap the two.")
    spans = np.diff(times)
    known = spans <= gap * (1 + 1e-9)
    floor, top = np.minimum(values[:-1], values[1:]), np.maximum(values[:-1], values[1:])
    below = spans * (_share_below(floor, top, low) if low is not None else 0.0)
    above = spans * (_share_below(-top, -floor, -high) if high is not None else 0.0)
    hours_below, hours_above = float(below[known].sum()), float(above[known].sum())
    inside = max(0.0, float(spans[known].sum()) - hours_below - hours_above)
    return BandHours(hours_below, inside, hours_above, float(spans[~known].sum()))


def _columns(samples: Sequence[tuple[float, float]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if not 2 <= len(samples) <= MOST_SAMPLES:
        raise SeriesError(
            f"samples has {len(samples)} readings; allowed are 2 to {MOST_SAMPLES}. Give more, or fewer days."
        )
    columns = np.asarray(samples, dtype=np.float64)
    if columns.ndim != 2 or columns.shape[1] != 2 or not np.isfinite(columns).all():
        raise SeriesError(
            "samples holds a time or value that is not a number; give pairs of hours and value."
        )
    if not (np.diff(columns[:, 0]) > 0).all():
        at = int(np.argmax(np.diff(columns[:, 0]) <= 0)) + 1
        raise SeriesError(f"samples goes back in time at reading {at + 1}; sort them and drop repeats.")
    return columns[:, 0], columns[:, 1]


def _share_below(floor: NDArray[np.float64], top: NDArray[np.float64], edge: float) -> NDArray[np.float64]:
    """The share of each straight piece from `floor` to `top` that lies below `edge`."""
    rise = top - floor
    steep = rise > 1e-12 * np.maximum(1.0, np.abs(top))  # less is rounding; dividing by it overflows
    share = np.clip((edge - floor) / np.where(steep, rise, 1.0), 0.0, 1.0)
    return np.where(steep, share, (floor < edge).astype(np.float64))
