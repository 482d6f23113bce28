"""Raising plants against published tables; humidity by method is common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import propagation
from garden.agronomy.errors import AgronomyError, OutOfRange


def test_under_mist_the_air_is_let_down_in_three_phases():
    # Common practice, no source: 95 to 100 % until callus, then 80 to 90 %, then 60 to 70 %.
    bands = [propagation.propagation_humidity("mist", phase) for phase in ("start", "rooting", "hardening")]
    assert [(band.low_percent, band.high_percent) for band in bands] == [(95, 100), (80, 90), (60, 70)]


def test_every_method_has_its_phases_and_dries_from_one_to_the_next():
    for method in {method for method, _ in propagation.HUMIDITY}:
        bands = [
            propagation.propagation_humidity(method, phase) for phase in ("start", "rooting", "hardening")
        ]
        lows = [band.low_percent for band in bands]
        assert lows == sorted(lows, reverse=True)
        assert all(0 < band.low_percent < band.high_percent <= 100 for band in bands)


@given(st.sampled_from(sorted(propagation.HUMIDITY)), st.floats(5, 40))
def test_the_deficit_of_a_phase_is_that_of_its_humidity(pair, temp_c):
    low, high = propagation.propagation_vpd_kpa(*pair, temp_c)
    assert 0 <= low < high


@pytest.mark.parametrize(
    ("cells", "volume", "density"),
    [(50, 66, 31), (72, 43, 47), (128, 23, 78), (200, 11, 122), (288, 7, 175)],
)
def test_trays_are_those_of_the_ontario_table(cells, volume, density):
    # Ontario government, vegetable transplants in plug trays, Table 1 (read).
    tray = propagation.TRAYS[cells]
    assert (tray.cell_cm3, tray.cells_ft2) == (volume, density)


def test_a_tray_of_72_takes_three_litres_of_mix():
    # Regression from the table: 72 x 43 cm³.
    assert propagation.tray_mix_l(72) == pytest.approx(3.1, abs=0.01)
    assert propagation.tray_mix_l(72, 4) == pytest.approx(12.384)


@pytest.mark.parametrize(
    ("crop", "fahrenheit", "percent", "days"),
    [
        ("tomato", 59, 98, 14), ("tomato", 68, 98, 8), ("tomato", 77, 97, 6), ("tomato", 86, 83, 6),
        ("tomato", 95, 46, 9), ("pepper", 59, 70, 25), ("pepper", 68, 96, 13), ("pepper", 77, 98, 8),
        ("pepper", 86, 95, 8), ("pepper", 95, 70, 9), ("cucumber", 59, 95, 13), ("cucumber", 68, 99, 6),
        ("cucumber", 77, 99, 4),
    ],
)  # fmt: skip
def test_emergence_agrees_with_the_rows_of_harringtons_table(crop, fahrenheit, percent, days):
    # Harrington's table (two copies read, which agree).
    found = propagation.emergence(crop, (fahrenheit - 32) / 1.8)
    assert (found.normal_percent, found.days) == pytest.approx((percent, days))


@given(st.sampled_from(["tomato", "pepper"]), st.floats(15, 35))
def test_between_the_rows_nothing_lies_outside_them(crop, temp_c):
    found = propagation.emergence(crop, temp_c)
    assert 46 <= found.normal_percent <= 98
    assert 6 <= found.days <= 25


def test_what_has_no_figures_is_refused_with_what_has():
    with pytest.raises(AgronomyError, match="allowed are tomato, pepper, cucumber"):
        propagation.emergence("basil", 20)
    with pytest.raises(OutOfRange, match="soil_temp_c"):
        propagation.emergence("tomato", 40)
    with pytest.raises(OutOfRange, match="soil_temp_c"):
        propagation.emergence("tomato", float("nan"))
    with pytest.raises(AgronomyError, match="allowed are 50, 72"):
        propagation.tray_mix_l(100)
    with pytest.raises(OutOfRange, match="trays"):
        propagation.tray_mix_l(72, 0)
    with pytest.raises(AgronomyError, match="allowed are covered-seeds start"):
        propagation.propagation_humidity("layering", "start")
    with pytest.raises(OutOfRange, match="temp_c"):
        propagation.propagation_vpd_kpa("mist", "start", 90)
