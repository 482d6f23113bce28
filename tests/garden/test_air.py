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


@pytest.mark.parametrize(
    ("temp_c", "pa"), [(-20, 103.24), (-5, 401.74), (5, 872.6), (25, 3169.7), (50, 12351.3)]
)
def test_saturation_pressure_agrees_with_five_rows_of_the_ashrae_table(temp_c, pa):
    # ASHRAE Fundamentals 2017 chapter 1 table 3, as printed in the tests of psychrolib (read in a copy).
    assert air.saturation_vapour_pressure_kpa(temp_c) * 1000 == pytest.approx(pa, rel=0.0003)


def test_the_wet_bulb_agrees_with_the_worked_example_of_ashrae():
    # ASHRAE 2017 chapter 1 example 1, as printed in the tests of psychrolib (read in a copy):
    # 40 °C dry, 20 °C wet: 14 %, 6.5 g/kg. The example reads a chart, hence the whole per cent.
    humidity = air.rh_from_wet_bulb_percent(40, 20)
    assert humidity == pytest.approx(14, abs=0.5)
    assert air.humidity_ratio(40, humidity) * 1000 == pytest.approx(6.5, abs=0.1)
    assert air.wet_bulb_c(40, 14) == pytest.approx(20, abs=0.1)


@pytest.mark.parametrize(
    ("dry_c", "wet_c", "rh"),
    [(25, 20, 63), (28, 22, 59), (24, 18, 56), (30, 25, 67), (20, (62 - 32) / 1.8, 71)],
)
def test_humidity_from_two_thermometers_agrees_with_published_tables(dry_c, wet_c, rh):
    # A school reference table; for 68 and 62 °F the US Army TM 5-3610-285-14 (both read). Whole per cent.
    assert air.rh_from_wet_bulb_percent(dry_c, wet_c) == pytest.approx(rh, abs=1)


def test_vapour_pressure_from_two_thermometers_agrees_with_fao_56():
    # FAO-56 example 4 (read in a copy): 25.6 and 19.5 °C at 87.9 kPa give 1.91 kPa.
    assert air.vapour_pressure_from_wet_bulb_kpa(25.6, 19.5, 87.9) == pytest.approx(1.91, abs=0.005)


def test_mean_saturation_pressure_agrees_with_fao_56():
    # FAO-56 example 3 (read in a copy): 24.5 and 15 °C give 2.39 kPa; with 1.91 kPa 79.9 %.
    mean = air.mean_saturation_vapour_pressure_kpa(24.5, 15.0)
    assert mean == pytest.approx(2.39, abs=0.005)
    assert 100 * 1.91 / mean == pytest.approx(79.9, abs=0.15)


def test_mean_vapour_pressure_and_its_deficit_agree_with_fao_56():
    # FAO-56 examples 5 and 6 (from memory): 18 °C at 82 % and 25 °C at 54 % give 1.70 kPa, 0.91 kPa short.
    vapour = air.mean_vapour_pressure_kpa(25, 18, 82, 54)
    assert vapour == pytest.approx(1.70, abs=0.005)
    assert air.mean_saturation_vapour_pressure_kpa(25, 18) - vapour == pytest.approx(0.91, abs=0.005)


def test_slope_pressure_and_psychrometric_constant_agree_with_fao_56():
    # FAO-56 examples 17 and 2 (read in copies).
    assert air.saturation_slope_kpa_c(30.2) == pytest.approx(0.246, abs=0.0005)
    pressure = air.pressure_at_altitude_fao_kpa(1800)
    assert pressure == pytest.approx(81.8, abs=0.05)
    assert air.psychrometric_constant_kpa_c(pressure) == pytest.approx(0.054, abs=0.0005)


@pytest.mark.parametrize(
    ("temp_c", "rh", "grams"),
    [
        (20, 50, 8.63), (20, 80, 13.81), (22, 60, 11.64), (24, 70, 15.22), (28, 65, 17.66), (18, 85, 13.05),
        (25, 70, 16.10), (26, 50, 12.16), (30, 50, 15.15),
    ],
)  # fmt: skip
def test_absolute_humidity_stays_as_computed(temp_c, rh, grams):
    # Regression values, computed by FAO-56 equations; not outside evidence.
    assert air.absolute_humidity_g_m3(temp_c, rh) == pytest.approx(grams, abs=0.02)


@given(temperatures, st.floats(0, 100), st.floats(50, 110))
def test_the_wet_thermometer_is_never_warmer_and_gives_the_humidity_back(temp_c, rh, pressure_kpa):
    wet = air.wet_bulb_c(temp_c, rh, pressure_kpa)
    assert wet <= temp_c
    lowest = air.wet_bulb_c(temp_c, 0, pressure_kpa)
    if wet >= lowest and temp_c > 0 and wet > 0.01:
        # Steps of 0.001 °C, worth at most 0.02 % of humidity in warm air.
        assert air.rh_from_wet_bulb_percent(temp_c, wet, pressure_kpa) == pytest.approx(rh, abs=0.1)


@given(st.floats(1, 60), st.floats(0, 98))
def test_damper_air_has_a_warmer_wet_thermometer(temp_c, rh):
    assert air.wet_bulb_c(temp_c, rh + 2) > air.wet_bulb_c(temp_c, rh)


@given(temperatures, humidities)
def test_the_dew_point_gives_the_humidity_back(temp_c, rh):
    dew = air.dew_point_c(temp_c, rh)
    if dew >= -20:
        assert air.rh_from_dew_point_percent(temp_c, dew) == pytest.approx(rh, rel=0.001)


@given(st.floats(-10, 60), st.floats(1, 100), st.floats(0, 10))
def test_cooling_air_gets_damper_and_wets_what_is_below_its_dew_point(temp_c, rh, drop_c):
    cooled = air.cooled_by(temp_c, rh, drop_c)
    assert rh * (1 - 1e-12) <= cooled.rh_percent <= 100
    assert cooled.temp_c == pytest.approx(temp_c - drop_c)
    # The dew point is found in steps of 0.001 °C.
    if cooled.wetness == "wet":
        assert cooled.margin_c < 0.002
        assert cooled.rh_percent == 100
        assert cooled.condensed_g_m3 >= 0
    else:
        assert cooled.margin_c > -0.002
        assert cooled.condensed_g_m3 == 0


@given(st.floats(0, 40), st.floats(30, 100), st.floats(0, 10))
def test_what_condenses_and_what_stays_is_what_was_there(temp_c, rh, drop_c):
    cooled = air.cooled_by(temp_c, rh, drop_c)
    before = air.absolute_humidity_g_m3(temp_c, rh) * (temp_c + 273.15)
    stays = air.absolute_humidity_g_m3(cooled.temp_c, cooled.rh_percent) * (cooled.temp_c + 273.15)
    assert stays + cooled.condensed_g_m3 * (cooled.temp_c + 273.15) == pytest.approx(before)


def test_a_cold_night_is_told_as_dry_close_or_wet():
    # 24 °C and 70 % have their dew point at 18.2 °C; two degrees of margin are common practice, no source.
    assert [air.cooled_by(24, 70, drop).wetness for drop in (3, 5, 7)] == ["dry", "close", "wet"]


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: air.wet_bulb_c(70, 50), "temp_c"),
        (lambda: air.wet_bulb_c(20, float("nan")), "rh_percent"),
        (lambda: air.wet_bulb_c(20, 50, 1013), "pressure_kpa"),
        (lambda: air.rh_from_wet_bulb_percent(20, 21), "wet_bulb_c"),
        (lambda: air.rh_from_wet_bulb_percent(20, 2), "wet_bulb_c"),
        (lambda: air.vapour_pressure_from_wet_bulb_kpa(40, 5), "wet_bulb_c"),
        (lambda: air.vapour_pressure_from_wet_bulb_kpa(20, 25), "wet_bulb_c"),
        (lambda: air.vapour_pressure_from_wet_bulb_kpa(20, 15, 100, 0.1), "psychrometer"),
        (lambda: air.saturation_slope_kpa_c(-5), "temp_c"),
        (lambda: air.mean_saturation_vapour_pressure_kpa(10, 20), "lowest_c"),
        (lambda: air.mean_vapour_pressure_kpa(10, 20, 80, 50), "lowest_c"),
        (lambda: air.mean_vapour_pressure_kpa(20, 10, 50, 80), "lowest_rh_percent"),
        (lambda: air.rh_from_dew_point_percent(20, 25), "dew_point_c"),
        (lambda: air.psychrometric_constant_kpa_c(10), "pressure_kpa"),
        (lambda: air.pressure_at_altitude_fao_kpa(9000), "altitude_m"),
        (lambda: air.cooled_by(20, 60, -1), "drop_c"),
        (lambda: air.cooled_by(0, 60, 30), "drop_c"),
        (lambda: air.cooled_by(20, 0, 5), "rh_percent"),
    ],
)
def test_what_no_thermometer_can_show_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
