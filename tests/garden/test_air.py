"""Moist air against published tables. Status words: read-in-copy, read, memory; "regression" was computed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import air
from garden.agronomy.errors import OutOfRange

temperatures = st.floats(-20, 60)
humidities = st.floats(1, 100)


@pytest.mark.parametrize(("temp_c", "kpa"), [(15.0, 1.705), (24.5, 3.075), (19.5, 2.267), (14.8, 1.68)])
def test_saturation_pressure_agrees_with_the_worked_examples_of_fao_56(temp_c, kpa):
    # FAO-56 examples 3, 4 and 20 (read in copies). The equations differ by up to 0.11 %, the print by 0.005.
    assert air.saturation_vapour_pressure_kpa(temp_c) == pytest.approx(kpa, rel=0.0011, abs=0.004)


@pytest.mark.parametrize(
    ("temp_c", "kpa"), [(1, 0.657), (10, 1.228), (20, 2.338), (30, 4.243), (35, 5.624), (40, 7.378)]
)
def test_saturation_pressure_agrees_with_the_table_of_fao_56(temp_c, kpa):
    # FAO-56 annex 2 table 2.3 (from memory); the ASHRAE equation lies up to 0.11 % from it.
    assert air.saturation_vapour_pressure_kpa(temp_c) == pytest.approx(kpa, rel=0.0015)


def test_saturation_pressure_agrees_with_the_ashrae_table():
    # ASHRAE Fundamentals 2017 chapter 1 table 3: 872.6 Pa at 5 °C (read in a copy).
    assert air.saturation_vapour_pressure_kpa(5) == pytest.approx(0.8726, rel=0.0003)


@pytest.mark.parametrize(("temp_f", "in_hg"), [(104, 2.160), (105, 2.225), (110, 2.576)])
def test_saturation_pressure_agrees_with_the_old_weather_bureau_tables(temp_f, in_hg):
    # NOAA psychrometric tables (read); older than the equations used today, hence one per cent.
    kpa = air.saturation_vapour_pressure_kpa((temp_f - 32) / 1.8)
    assert kpa / 3.386389 == pytest.approx(in_hg, rel=0.01)


def test_vapour_pressure_from_the_dew_point_agrees_with_fao_56():
    # FAO-56 example 20: dew point 14.8 °C gives 1.68 kPa (read in a copy).
    assert air.vapour_pressure_kpa(14.8, 100) == pytest.approx(1.68, abs=0.005)


def test_saturated_humidity_ratio_agrees_with_the_ashrae_table():
    # ASHRAE 2017 chapter 1 table 2: 5.425 g/kg at 5 °C (read in a copy); the table is for real gas, +0.4 %.
    assert air.humidity_ratio(5, 100) * 1000 == pytest.approx(5.425, rel=0.005)


@pytest.mark.parametrize(("altitude_m", "kpa"), [(500, 95.461), (1000, 89.875)])
def test_pressure_at_altitude_agrees_with_the_ashrae_table(altitude_m, kpa):
    # ASHRAE 2017 chapter 1 table 1 (read in a copy).
    assert air.pressure_at_altitude_kpa(altitude_m) == pytest.approx(kpa, abs=0.002)


@pytest.mark.parametrize(
    ("temp_c", "rh", "vpd", "dew", "ratio_g_kg"),
    [
        (20, 50, 1.169, 9.27, 7.26),
        (20, 80, 0.468, 16.45, 11.70),
        (22, 60, 1.058, 13.88, 9.90),
        (24, 70, 0.895, 18.19, 13.10),
        (28, 65, 1.323, 20.80, 15.47),
        (18, 85, 0.310, 15.44, 10.96),
        (25, 70, 0.950, 19.15, 13.92),
        (26, 50, 1.681, 14.77, 10.50),
        (30, 50, 2.122, 18.44, 13.31),
    ],
)
def test_deficit_dew_point_and_humidity_ratio_stay_as_computed(temp_c, rh, vpd, dew, ratio_g_kg):
    # Regression values, computed by FAO-56 equations and by psychrolib alike; not outside evidence.
    assert air.vpd_air_kpa(temp_c, rh) == pytest.approx(vpd, abs=0.003)
    assert air.dew_point_c(temp_c, rh) == pytest.approx(dew, abs=0.02)
    assert air.humidity_ratio(temp_c, rh) * 1000 == pytest.approx(ratio_g_kg, abs=0.02)


@pytest.mark.parametrize(
    ("air_c", "rh", "leaf_c", "vpd"), [(28, 70, 26, 0.715), (22, 65, 21, 0.768), (20, 80, 18, 0.193)]
)
def test_leaf_deficit_stays_as_computed(air_c, rh, leaf_c, vpd):
    # Regression values, computed by FAO-56 equations; not outside evidence.
    assert air.vpd_leaf_kpa(air_c, rh, leaf_c) == pytest.approx(vpd, abs=0.003)


def test_deficit_of_a_published_propagation_room_lies_within_its_humidity_spread():
    # Applied Sciences 10(3), 1044 (read): 25.7 °C, 73 ± 5.2 %, deficit 0.95 ± 0.04 kPa.
    assert air.vpd_air_kpa(25.7, 78.2) < 0.95 < air.vpd_air_kpa(25.7, 67.8)


@given(temperatures, humidities)
def test_humidity_for_a_deficit_undoes_the_deficit(temp_c, rh):
    assert air.rh_for_vpd_percent(temp_c, air.vpd_air_kpa(temp_c, rh)) == pytest.approx(rh, abs=1e-6)


@given(temperatures, humidities)
def test_air_at_its_dew_point_is_saturated(temp_c, rh):
    dew = air.dew_point_c(temp_c, rh)
    assert dew <= temp_c
    if dew > -20:
        vapour = air.vapour_pressure_kpa(temp_c, rh)
        assert air.saturation_vapour_pressure_kpa(dew) == pytest.approx(vapour, rel=0.001)


@given(st.floats(-20, 59), st.floats(0.01, 1), st.floats(0, 99))
def test_warmer_air_of_the_same_humidity_is_drier_for_plants(temp_c, step, rh):
    assert air.vpd_air_kpa(temp_c + step, rh) > air.vpd_air_kpa(temp_c, rh)


@given(temperatures, st.floats(0, 99), st.floats(0.01, 1))
def test_damper_air_has_a_smaller_deficit(temp_c, rh, step):
    assert air.vpd_air_kpa(temp_c, rh + step) < air.vpd_air_kpa(temp_c, rh)


@given(temperatures, humidities)
def test_a_leaf_as_warm_as_the_air_has_the_deficit_of_the_air(temp_c, rh):
    assert air.vpd_leaf_kpa(temp_c, rh, temp_c) == pytest.approx(air.vpd_air_kpa(temp_c, rh), abs=1e-12)


def test_water_condenses_on_a_leaf_below_the_dew_point():
    leaf = air.dew_point_c(24, 80) - 1
    assert air.vpd_leaf_kpa(24, 80, leaf) < 0


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: air.vpd_air_kpa(72, 50), "temp_c"),
        (lambda: air.vpd_air_kpa(float("nan"), 50), "temp_c"),
        (lambda: air.vpd_air_kpa(22, 101), "rh_percent"),
        (lambda: air.vpd_air_kpa(22, -1), "rh_percent"),
        (lambda: air.vpd_leaf_kpa(22, 50, 90), "leaf_temp_c"),
        (lambda: air.vpd_leaf_kpa(90, 50, 22), "air_temp_c"),
        (lambda: air.dew_point_c(22, 0), "rh_percent"),
        (lambda: air.rh_for_vpd_percent(20, 2.4), "vpd_kpa"),
        (lambda: air.humidity_ratio(20, 50, 1013), "pressure_kpa"),
        (lambda: air.pressure_at_altitude_kpa(9000), "altitude_m"),
    ],
)
def test_impossible_air_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange, match=f"^{field} is .*allowed is") as caught:
        call()
    assert caught.value.field == field
