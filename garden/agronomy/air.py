"""Moist air: vapour pressure, vapour pressure deficit, dew point, humidity ratio.

The equations are those of the ASHRAE Handbook of Fundamentals 2017, chapter 1, through psychrolib.
Between 0 and 40 °C they differ from FAO-56 equation 11 by at most 0.11 %.
"""

import psychrolib

from garden.agronomy.errors import check_above, check_range

# psychrolib keeps one unit system for the whole process; this project only ever works in SI.
psychrolib.SetUnitSystem(psychrolib.SI)

STANDARD_PRESSURE_KPA = 101.325
TEMPERATURE_RANGE_C = (-20.0, 60.0)


def _temperature(field: str, value: float) -> float:
    return check_range(field, value, *TEMPERATURE_RANGE_C, "°C")


def _humidity(value: float) -> float:
    return check_range("rh_percent", value, 0, 100, "%")


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
    return saturation_vapour_pressure_kpa(temp_c) - vapour_pressure_kpa(temp_c, rh_percent)


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
    check_range("pressure_kpa", pressure_kpa, 50, 110, "kPa")
    vapour = vapour_pressure_kpa(temp_c, rh_percent)
    return float(psychrolib.GetHumRatioFromVapPres(vapour * 1000, pressure_kpa * 1000))


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
