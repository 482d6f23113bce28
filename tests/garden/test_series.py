"""Hours outside a band, from samples that need not be regular."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.errors import OutOfRange
from garden.agronomy.series import SeriesError, hours_outside_band

gaps = st.lists(st.tuples(st.floats(0.01, 3), st.floats(-50, 150)), min_size=1, max_size=30)


def series(first: float, steps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    at, found = 0.0, [(0.0, first)]
    for gap, value in steps:
        at += gap
        found.append((at, value))
    return found


def test_a_straight_rise_through_a_band_spends_its_time_in_proportion():
    hours = hours_outside_band([(0, 40), (10, 90)], 50, 80, max_gap_h=12)
    assert (hours.below_h, hours.inside_h, hours.above_h) == pytest.approx((2, 6, 2))


def test_uneven_samples_count_by_their_time_not_by_their_number():
    hours = hours_outside_band([(0, 90), (0.1, 90), (0.2, 90), (0.9, 60), (1.0, 60)], None, 80)
    assert hours.above_h == pytest.approx(0.2 + 0.7 / 3)
    assert hours.inside_h == pytest.approx(0.1 + 0.7 * 2 / 3)


def test_a_gap_too_long_is_unknown_and_not_bridged():
    hours = hours_outside_band([(0, 90), (0.5, 90), (5, 90), (6, 90)], 50, 80)
    assert hours.above_h == pytest.approx(1.5)
    assert hours.unknown_h == pytest.approx(4.5)


def test_a_value_on_the_edge_is_inside():
    hours = hours_outside_band([(0, 80), (1, 80)], 50, 80)
    assert (hours.below_h, hours.inside_h, hours.above_h) == (0, 1, 0)
    assert hours_outside_band([(0, 50), (1, 50)], 50, 80).inside_h == 1


@given(st.floats(-50, 150), gaps, st.floats(0, 50), st.floats(50, 100))
def test_all_hours_are_accounted_for(first, steps, low, high):
    samples = series(first, steps)
    hours = hours_outside_band(samples, low, high)
    parts = (hours.below_h, hours.inside_h, hours.above_h, hours.unknown_h)
    assert all(part >= 0 for part in parts)
    assert sum(parts) == pytest.approx(samples[-1][0])


@given(st.floats(-50, 150), gaps, st.floats(0, 50), st.floats(0.1, 20))
def test_a_wider_band_leaves_fewer_hours_outside(first, steps, low, step):
    samples = series(first, steps)
    narrow, wide = hours_outside_band(samples, low, 100), hours_outside_band(samples, low - step, 100 + step)
    assert wide.below_h <= narrow.below_h + 1e-9
    assert wide.above_h <= narrow.above_h + 1e-9


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        ([(0, 50)], "1 readings"),
        ([(0, 50), (0, 60)], "back in time at reading 2"),
        ([(0, 50), (2, 60), (1, 60)], "back in time at reading 3"),
        ([(0, 50), (1, float("nan"))], "not a number"),
    ],
)
def test_a_series_that_is_no_series_is_refused_with_the_reason(samples, words):
    with pytest.raises(SeriesError, match=words):
        hours_outside_band(samples, 50, 80)


def test_a_band_the_wrong_way_round_and_an_endless_gap_are_refused():
    with pytest.raises(SeriesError, match="Swap"):
        hours_outside_band([(0, 50), (1, 50)], 80, 50)
    with pytest.raises(OutOfRange, match="max_gap_h"):
        hours_outside_band([(0, 50), (1, 50)], 50, 80, max_gap_h=100)
