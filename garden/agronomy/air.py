"""Moist air: vapour pressure and its deficit, dew point, wet bulb, humidity, and what a cold night does.

The equations are those of the ASHRAE Handbook of Fundamentals 2017, chapter 1, through psychrolib.
Between 0 and 40 °C they differ from FAO-56 equation 11 by at most 0.11 %.
"""

from dataclasses import dataclass
from typing import Literal

import psychrolib

from garden.agronomy.errors import OutOfRange, check_above, check_range

# psychrolib keeps one unit system for the whole process; this project only ever works in SI.
psychrolib.SetUnitSystem(psychrolib.SI)

STANDARD_PRESSURE_KPA = 101.325
TEMPERATURE_RANGE_C = (-20.0, 60.0)
VENTILATED_PSYCHROMETER = 0.000662
# Nearer to the dew point than this a cold corner may already be wet: common practice, no source.
CLOSE_TO_DEW_C = 2.0

Wetness = Literal["dry", "close", "wet"]


def _temperature(field: str, value: float) -> float:
    return check_range(field, value, *TEMPERATURE_RANGE_C, "°C")


def _humidity(value: float) -> float:
    return check_range("rh_percent", value, 0, 100, "%")


def _pressure(value: float) -> float:
    return check_range("pressure_kpa", value, 50, 110, "kPa")


def saturation_vapour_pressure_kpa(temp_c: float) -> float:
    """Return the saturation vapour pressure in kPa at `temp_c` (-20 to 60 °C); raises OutOfRange.

    Source: ASHRAE 2017, chapter 1, equations 5 and 6 (over ice below freezing).
    """
    return float(psychrolib.GetSatVapPres(_temperature("temp_c", temp_c))) / 1000


def vapour_pressure_kpa(temp_c: float, rh_percent: float) -> float:
    """Return the actual vapour pressure in kPa at `temp_c` (-20 to 60 °C) and `rh_percent` (0 to 100).

    Raises OutOfRange. Source: definition of relative humidity.
    """
    return saturation_vapour_pressure_kpa(temp_c) * _humidity(rh_percent) / 100


def vpd_air_kpa(temp_c: float, rh_percent: float) -> float:
    """Return the vapour pressure deficit of the air in kPa, never negative.

    `temp_c` -20 to 60 °C, `rh_percent` 0 to 100; raises OutOfRange. Source: FAO-56 chapter 3.
    """
    # Of two nearly equal numbers the last digit can come out below zero, which others then refuse.
    return max(0.0, saturation_vapour_pressure_kpa(temp_c) - vapour_pressure_kpa(temp_c, rh_percent))


def vpd_leaf_kpa(air_temp_c: float, rh_percent: float, leaf_temp_c: float) -> float:
    """Return the deficit between leaf and air in kPa; negative means that water condenses on the leaf.

    Temperatures -20 to 60 °C, `rh_percent` 0 to 100; raises OutOfRange. The inside of the leaf is taken
    as saturated at leaf temperature. Source: FAO-56 chapter 3, the same relations.
    """
    air = _temperature("air_temp_c", air_temp_c)
    leaf = _temperature("leaf_temp_c", leaf_temp_c)
    return saturation_vapour_pressure_kpa(leaf) - vapour_pressure_kpa(air, rh_percent)


def dew_point_c(temp_c: float, rh_percent: float) -> float:
    """Return the dew point in °C (to 0.001), at most `temp_c`.

    `temp_c` -20 to 60 °C, `rh_percent` above 0.1 up to 100 (perfectly dry air has no dew point); raises
    OutOfRange. Source: ASHRAE 2017, chapter 1, inverse of equations 5 and 6.
    """
    check_above("rh_percent", rh_percent, 0.1, 100, "%")
    return float(psychrolib.GetTDewPointFromRelHum(_temperature("temp_c", temp_c), rh_percent / 100))


def humidity_ratio(temp_c: float, rh_percent: float, pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Return kilograms of water vapour per kilogram of dry air.

    `temp_c` -20 to 60 °C, `rh_percent` 0 to 100, `pressure_kpa` 50 to 110; raises OutOfRange.
    Source: ASHRAE 2017, chapter 1, equation 20.
    """
    vapour = vapour_pressure_kpa(temp_c, rh_percent)
    return float(psychrolib.GetHumRatioFromVapPres(vapour * 1000, _pressure(pressure_kpa) * 1000))


def rh_for_vpd_percent(temp_c: float, vpd_kpa: float) -> float:
    """Return the relative humidity in % at which air of `temp_c` (-20 to 60 °C) has the deficit `vpd_kpa`.

    `vpd_kpa` from 0 to the saturation pressure at `temp_c`, since drier than dry air does not exist;
    raises OutOfRange. Source: FAO-56 chapter 3, solved for humidity.
    """
    saturation = saturation_vapour_pressure_kpa(temp_c)
    return 100 * (1 - check_range("vpd_kpa", vpd_kpa, 0, saturation, "kPa") / saturation)


def pressure_at_altitude_kpa(altitude_m: float) -> float:
    """Return the standard air pressure in kPa at `altitude_m` (-400 to 5000 m); raises OutOfRange.

    Source: ASHRAE 2017, chapter 1, equation 3.
    """
    return (
        float(psychrolib.GetStandardAtmPressure(check_range("altitude_m", altitude_m, -400, 5000, "m")))
        / 1000
    )


def pressure_at_altitude_fao_kpa(altitude_m: float) -> float:
    """Return the air pressure in kPa at `altitude_m` (-400 to 5000 m) as FAO-56 has it; raises OutOfRange.

    A 20 °C air column: 0.07 % above the standard atmosphere at 500 m, 0.3 % at 1800 m. For use with the
    other equations of FAO-56. Source: FAO-56 equation 7.
    """
    altitude = check_range("altitude_m", altitude_m, -400, 5000, "m")
    return float(101.3 * ((293 - 0.0065 * altitude) / 293) ** 5.26)


def psychrometric_constant_kpa_c(pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Return the psychrometric constant in kPa/°C at `pressure_kpa` (50 to 110); raises OutOfRange.

    Source: FAO-56 equation 8.
    """
    return 0.000665 * _pressure(pressure_kpa)


def saturation_slope_kpa_c(temp_c: float) -> float:
    """Return by how many kPa the saturation pressure rises per °C at `temp_c` (0 to 60 °C).

    Raises OutOfRange. Source: FAO-56 equation 13.
    """
    temp = check_range("temp_c", temp_c, 0, 60, "°C")
    return 4098 * saturation_vapour_pressure_kpa(temp) / (temp + 237.3) ** 2


def mean_saturation_vapour_pressure_kpa(highest_c: float, lowest_c: float) -> float:
    """Return the day's mean saturation pressure in kPa from its highest and lowest temperature.

    Both -20 to 60 °C, `lowest_c` not above `highest_c`; raises OutOfRange. The mean of the two pressures,
    which is more than the pressure at the mean temperature. Source: FAO-56 equation 12.
    """
    high = _temperature("highest_c", highest_c)
    low = check_range("lowest_c", lowest_c, TEMPERATURE_RANGE_C[0], high, "°C (the highest)")
    return (saturation_vapour_pressure_kpa(high) + saturation_vapour_pressure_kpa(low)) / 2


def mean_vapour_pressure_kpa(
    highest_c: float, lowest_c: float, highest_rh_percent: float, lowest_rh_percent: float
) -> float:
    """Return the day's mean vapour pressure in kPa from the extremes of temperature and humidity.

    Temperatures -20 to 60 °C, humidities 0 to 100 %, each lowest not above its highest; the damp hours are
    taken to be the cold ones. Raises OutOfRange. Source: FAO-56 equation 17.
    """
    warm = _temperature("highest_c", highest_c)
    cold = check_range("lowest_c", lowest_c, TEMPERATURE_RANGE_C[0], warm, "°C (the highest)")
    damp = check_range("highest_rh_percent", highest_rh_percent, 0, 100, "%")
    dry = check_range("lowest_rh_percent", lowest_rh_percent, 0, damp, "% (the highest)")
    return (vapour_pressure_kpa(cold, damp) + vapour_pressure_kpa(warm, dry)) / 2


def absolute_humidity_g_m3(temp_c: float, rh_percent: float) -> float:
    """Return the grams of water vapour in a cubic metre of air.

    `temp_c` -20 to 60 °C, `rh_percent` 0 to 100; raises OutOfRange. Source: ideal gas with the customary
    rounded constant of 2.165 g K/J (the exact one is 0.08 % higher).
    """
    return 2165 * vapour_pressure_kpa(temp_c, rh_percent) / (temp_c + 273.15)


def rh_from_dew_point_percent(temp_c: float, dew_point_c: float) -> float:
    """Return the relative humidity in % of air of `temp_c` (-20 to 60 °C) whose dew point is known.

    `dew_point_c` -20 °C to `temp_c`; raises OutOfRange. Source: definition of the dew point.
    """
    temp = _temperature("temp_c", temp_c)
    dew = check_range("dew_point_c", dew_point_c, TEMPERATURE_RANGE_C[0], temp, "°C (the air)")
    return 100 * saturation_vapour_pressure_kpa(dew) / saturation_vapour_pressure_kpa(temp)


def wet_bulb_c(temp_c: float, rh_percent: float, pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Return the wet-bulb temperature in °C (to 0.001), at most `temp_c`.

    `temp_c` -20 to 60 °C, `rh_percent` 0 to 100, `pressure_kpa` 50 to 110; raises OutOfRange.
    Source: ASHRAE 2017, chapter 1, equations 33 and 35 solved by steps.
    """
    return _wet_bulb(temp_c, rh_percent, pressure_kpa)


def _wet_bulb(temp_c: float, rh_percent: float, pressure_kpa: float) -> float:
    temp, share = _temperature("temp_c", temp_c), _humidity(rh_percent) / 100
    if share == 1.0:
        return temp
    return min(temp, float(psychrolib.GetTWetBulbFromRelHum(temp, share, _pressure(pressure_kpa) * 1000)))


def rh_from_wet_bulb_percent(
    temp_c: float, wet_bulb_c: float, pressure_kpa: float = STANDARD_PRESSURE_KPA
) -> float:
    """Return the relative humidity in % from a dry and a ventilated wet thermometer.

    `temp_c` (dry) -20 to 60 °C, `wet_bulb_c` from that of perfectly dry air to `temp_c`, `pressure_kpa` 50
    to 110; raises OutOfRange. Source: ASHRAE 2017, chapter 1, equations 33 and 35.
    """
    lowest = _wet_bulb(temp_c, 0, pressure_kpa)
    wet = check_range("wet_bulb_c", wet_bulb_c, lowest, temp_c, "°C (dry air to the dry thermometer)")
    share = float(psychrolib.GetRelHumFromTWetBulb(temp_c, wet, pressure_kpa * 1000))
    return min(max(100 * share, 0.0), 100.0)


def vapour_pressure_from_wet_bulb_kpa(
    temp_c: float,
    wet_bulb_c: float,
    pressure_kpa: float = STANDARD_PRESSURE_KPA,
    psychrometer: float = VENTILATED_PSYCHROMETER,
) -> float:
    """Return the actual vapour pressure in kPa from a dry and a wet thermometer.

    `temp_c` (dry) and `wet_bulb_c` 0 to 60 °C, the wet one not above the dry one and not so low that the
    pressure would be negative; `pressure_kpa` 50 to 110; `psychrometer` 0.0005 to 0.0013 per °C (0.000662
    ventilated, 0.0008 natural draught, 0.0012 indoors without). Raises OutOfRange.
    Source: FAO-56 equations 15 and 16.
    """
    dry = check_range("temp_c", temp_c, 0, 60, "°C")
    wet = check_range("wet_bulb_c", wet_bulb_c, 0, dry, "°C (the dry thermometer)")
    constant = check_range("psychrometer", psychrometer, 0.0005, 0.0013, "per °C") * _pressure(pressure_kpa)
    vapour = saturation_vapour_pressure_kpa(wet) - constant * (dry - wet)
    if vapour < 0:
        raise OutOfRange("wet_bulb_c", wet, f"nearer to the dry thermometer's {dry:g} °C: no air is so dry")
    return vapour


@dataclass(frozen=True)
class Cooled:
    """Air, or a surface in it, after cooling down. `margin_c` below zero: water condenses."""

    temp_c: float
    dew_point_c: float
    margin_c: float
    rh_percent: float
    condensed_g_m3: float
    wetness: Wetness


def cooled_by(temp_c: float, rh_percent: float, drop_c: float) -> Cooled:
    """Return what a drop of `drop_c` does to air (a cold night) or to what touches it (a pane, a leaf).

    `temp_c` -20 to 60 °C, `rh_percent` above 0.1 up to 100, `drop_c` 0 to 60 °C and not below -20 °C in
    the end; raises OutOfRange. `rh_percent` of the answer is that of the cooled air, at most 100;
    `condensed_g_m3` is the water that the cooled air can no longer carry; "close" means within 2 °C of the
    dew point (common practice, no source). Source: the water in the air stays while it cools (definition
    of the dew point).
    """
    dew = dew_point_c(temp_c, rh_percent)
    end = temp_c - check_range("drop_c", drop_c, 0, min(60.0, temp_c - TEMPERATURE_RANGE_C[0]), "°C")
    vapour = vapour_pressure_kpa(temp_c, rh_percent)
    saturated = saturation_vapour_pressure_kpa(end)
    margin = end - dew
    # Judged by pressure, so that the answer agrees with the humidity to the last digit.
    wetness: Wetness = "wet" if vapour > saturated else "close" if margin < CLOSE_TO_DEW_C else "dry"
    excess = max(0.0, vapour - saturated)
    return Cooled(
        temp_c=end,
        dew_point_c=dew,
        margin_c=margin,
        rh_percent=min(100.0, 100 * vapour / saturated),
        condensed_g_m3=2165 * excess / (end + 273.15),
        wetness=wetness,
    )
