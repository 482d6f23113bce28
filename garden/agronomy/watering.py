"""How much water a pot holds, uses and needs, and how much oxygen water holds."""

import math
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.air import (
    STANDARD_PRESSURE_KPA,
    psychrometric_constant_kpa_c,
    saturation_slope_kpa_c,
    saturation_vapour_pressure_kpa,
    vpd_air_kpa,
)
from garden.agronomy.errors import check_above, check_range

LATENT_HEAT_MJ_KG = 2.45
PAR_UMOL_PER_JOULE = 4.6
CANOPY_ABSORBS = 0.8
INDOOR_AIR_SPEED_M_S = 0.5
_KPA_PER_ATM = 101.325
# A pot watered again before this part of the allowed depletion is used never dries; judgement.
TOO_SOON = 0.4
# Oxygen at the roots, mg/L: growth suffers below the first, keep above the second (both memory).
HARMFUL_OXYGEN_MG_L = 3.0
ENOUGH_OXYGEN_MG_L = 5.0
# Above this, root rot of warm water takes over (Gold and Stanghellini 1985) and oxygen runs short.
WARM_ROOTS_C = 23.0

Rhythm = Literal["too-often", "fitting", "too-seldom", "dries-out"]
OxygenVerdict = Literal["harmful", "low", "enough"]


def _container(value: float) -> float:
    return check_above("container_l", value, 0, 10_000, "L")


def _share(field: str, value: float) -> float:
    return check_range(field, value, 0, 1)


def water_held_l(container_l: float, container_capacity: float) -> float:
    """Return the litres a container holds after watering and draining.

    `container_l` above 0 to 10000, `container_capacity` 0 to 1 (share of the volume); raises OutOfRange.
    Source: definition of container capacity. Taller containers of the same mix hold a smaller share.
    """
    return _container(container_l) * _share("container_capacity", container_capacity)


def available_water_l(container_l: float, available_water: float) -> float:
    """Return the litres of a container that plants can take up, from full to wilting.

    `container_l` above 0 to 10000, `available_water` 0 to 1 (share of the volume); raises OutOfRange.
    Source: definition of available water.
    """
    return _container(container_l) * _share("available_water", available_water)


def light_limited_water_use_l_m2_d(absorbed_w_m2: float, hours: float) -> float:
    """Return the litres per m² and day that the absorbed light could evaporate if all of it did.

    `absorbed_w_m2` 0 to 1000, `hours` 0 to 24; raises OutOfRange. Heat from warm dry air comes on top.
    Source: energy balance with 2.45 MJ/kg (FAO-56).
    """
    power = check_range("absorbed_w_m2", absorbed_w_m2, 0, 1000, "W/m²")
    return power * check_range("hours", hours, 0, 24, "h") * 3600 / (LATENT_HEAT_MJ_KG * 1e6)


def reference_evapotranspiration_mm_d(
    net_radiation_mj_m2_d: float,
    temp_c: float,
    vpd_kpa: float,
    air_speed_m_s: float,
    pressure_kpa: float = STANDARD_PRESSURE_KPA,
) -> float:
    """Return the evapotranspiration of a reference crop in mm (litres per m²) a day.

    `net_radiation_mj_m2_d` 0 to 40 (less heat into the ground), `temp_c` 0 to 50 °C, `vpd_kpa` 0 to 10,
    `air_speed_m_s` 0 to 10, `pressure_kpa` 50 to 110; raises OutOfRange.
    Source: FAO-56 equation 6 (Penman-Monteith).
    """
    energy = check_range("net_radiation_mj_m2_d", net_radiation_mj_m2_d, 0, 40, "MJ/m²/d")
    temp = check_range("temp_c", temp_c, 0, 50, "°C")
    deficit = check_range("vpd_kpa", vpd_kpa, 0, 10, "kPa")
    wind = check_range("air_speed_m_s", air_speed_m_s, 0, 10, "m/s")
    slope, gamma = saturation_slope_kpa_c(temp), psychrometric_constant_kpa_c(pressure_kpa)
    supply = 0.408 * slope * energy + gamma * 900 / (temp + 273) * wind * deficit
    return supply / (slope + gamma * (1 + 0.34 * wind))


def daily_water_use_l(
    ppfd_umol_m2_s: float,
    photoperiod_h: float,
    area_m2: float,
    canopy_share: float = 1.0,
    air_temp_c: float | None = None,
    rh_percent: float | None = None,
) -> float:
    """Return the litres of water that plants use in a day: a rough estimate, to be checked by weighing.

    `ppfd_umol_m2_s` 0 to 3000, `photoperiod_h` 0 to 24, `area_m2` above 0 to 10000, `canopy_share` 0 to 1
    (share of the area that leaves cover). With `air_temp_c` (0 to 50 °C) and `rh_percent` (0 to 100) light
    and dry air both count (FAO-56 equation 6, slow indoor air); without them only light does (energy
    balance). Raises OutOfRange. Taken as known: 4.6 µmol/J of light (Thimijan and Heins 1983, white
    light), 80 % absorbed and 0.5 m/s of air (both common practice, no source). Large crops may use twice.
    """
    photons = check_range("ppfd_umol_m2_s", ppfd_umol_m2_s, 0, 3000, "µmol/m²/s")
    hours = check_range("photoperiod_h", photoperiod_h, 0, 24, "h")
    covered = check_above("area_m2", area_m2, 0, 10_000, "m²") * _share("canopy_share", canopy_share)
    absorbed_w_m2 = photons / PAR_UMOL_PER_JOULE * CANOPY_ABSORBS
    if air_temp_c is None or rh_percent is None:
        return light_limited_water_use_l_m2_d(absorbed_w_m2, hours) * covered
    energy = absorbed_w_m2 * hours * 3600 / 1e6
    deficit = vpd_air_kpa(air_temp_c, rh_percent)
    return reference_evapotranspiration_mm_d(energy, air_temp_c, deficit, INDOOR_AIR_SPEED_M_S) * covered


def watering_interval_days(available_l: float, daily_use_l: float, allowed_depletion: float = 0.5) -> float:
    """Return the days between waterings when a share of the available water may be used up.

    `available_l` above 0, `daily_use_l` above 0 to 10000 for the same container, `allowed_depletion` above
    0 to 1 (half is common practice, no source); raises OutOfRange. Source: mass balance.
    """
    stock = check_above("available_l", available_l, 0, 10_000, "L")
    share = check_above("allowed_depletion", allowed_depletion, 0, 1)
    return stock * share / check_above("daily_use_l", daily_use_l, 0, 10_000, "L")


def irrigation_volume_l(lost_l: float, leaching_fraction: float = 0.0) -> float:
    """Return the litres to give so that `lost_l` is replaced and a share runs through.

    `lost_l` 0 to 10000, `leaching_fraction` 0 to 0.9; raises OutOfRange. Source: definition of the
    leaching fraction (UF/IFAS EP529).
    """
    lost = check_range("lost_l", lost_l, 0, 10_000, "L")
    return lost / (1 - check_range("leaching_fraction", leaching_fraction, 0, 0.9))


def leaching_fraction(applied_l: float, drained_l: float) -> float:
    """Return the share (0 to 1) of the water given that ran through.

    `applied_l` above 0 to 10000, `drained_l` 0 to `applied_l`; raises OutOfRange. Source: UF/IFAS EP529.
    """
    applied = check_above("applied_l", applied_l, 0, 10_000, "L")
    return check_range("drained_l", drained_l, 0, applied, "L (the water given)") / applied


def leaching_requirement(water_ec_ms_cm: float, tolerated_ec_ms_cm: float) -> float:
    """Return the share of the water that must run through to hold the root zone at a tolerated EC.

    `water_ec_ms_cm` 0 to 30, `tolerated_ec_ms_cm` (of a saturated extract) above 0 to 30 and above two
    fifths of the water's; raises OutOfRange. A rule for field soil. Source: FAO 29.
    """
    water = check_range("water_ec_ms_cm", water_ec_ms_cm, 0, 30, "mS/cm")
    tolerated = check_above("tolerated_ec_ms_cm", tolerated_ec_ms_cm, 0.4 * water, 30, "mS/cm")
    return water / (5 * tolerated - water)


def depletion_by_weight(full_g: float, dry_g: float, now_g: float) -> float:
    """Return the share (0 to 1) of a pot's water that is gone, by weighing.

    `full_g` above `dry_g`, `now_g` between them, grams up to 1000000; raises OutOfRange.
    Source: mass balance; the plant's own growth is neglected.
    """
    dry = check_range("dry_g", dry_g, 0, 1e6, "g")
    full = check_above("full_g", full_g, dry, 1e6, "g")
    return (full - check_range("now_g", now_g, dry, full, "g (dry to full)")) / (full - dry)


def ready_to_water_loss_g(
    container_l: float, available_water: float, allowed_depletion: float = 0.5
) -> float:
    """Return how many grams lighter than after watering a pot is when it should be watered again.

    `container_l` above 0 to 10000, `available_water` 0 to 1 (share of the volume), `allowed_depletion`
    above 0 to 1 (half is common practice, no source); raises OutOfRange. One litre weighs 1000 g.
    """
    share = check_above("allowed_depletion", allowed_depletion, 0, 1)
    return 1000 * available_water_l(container_l, available_water) * share


@dataclass(frozen=True)
class WateringPlan:
    """How often and how much: days between waterings, and per watering the litres used, given and drained."""

    interval_days: float
    used_l: float
    apply_l: float
    drain_l: float


def watering_plan(
    available_l: float, daily_use_l: float, allowed_depletion: float = 0.5, leaching_fraction: float = 0.0
) -> WateringPlan:
    """Return the interval and the volume of waterings that replace what is used and leach a share.

    `available_l` above 0 and `daily_use_l` above 0 to 10000 for the same container, `allowed_depletion`
    above 0 to 1 (half is common practice, no source), `leaching_fraction` 0 to 0.9; raises OutOfRange.
    Source: mass balance and definition of the leaching fraction (UF/IFAS EP529).
    """
    days = watering_interval_days(available_l, daily_use_l, allowed_depletion)
    used = available_l * allowed_depletion
    given = irrigation_volume_l(used, leaching_fraction)
    return WateringPlan(days, used, given, given - used)


@dataclass(frozen=True)
class Overwatering:
    """What is applied against what the plant can use.

    `applied_ratio`: litres given over litres used (1 replaces exactly; more runs through or stays).
    `depletion`: share of the available water gone when the next watering comes (0: the pot never dries).
    `due_days`: the interval that would let the pot dry as allowed.
    """

    applied_ratio: float
    depletion: float
    due_days: float
    given_days: float
    rhythm: Rhythm


def overwatering(
    applied_l: float,
    between_days: float,
    available_l: float,
    daily_use_l: float,
    allowed_depletion: float = 0.5,
) -> Overwatering:
    """Return how the grower's watering compares with what the plant can use.

    `applied_l` at each watering, 0 to 10000; `between_days` above 0 to 365; `available_l` and `daily_use_l`
    above 0 to 10000 for the same container; `allowed_depletion` above 0 to 1 (half is common practice, no
    source). "too-often": watered again before 40 % of what is allowed is used (judgement); "too-seldom":
    after more is used than allowed; "dries-out": after all of it. It is how often that drowns roots: what a
    drained pot cannot hold runs through. Raises OutOfRange. Source: mass balance.
    """
    given = check_range("applied_l", applied_l, 0, 10_000, "L")
    days = check_above("between_days", between_days, 0, 365, "days")
    due = watering_interval_days(available_l, daily_use_l, allowed_depletion)
    used = daily_use_l * days
    depletion = used / available_l
    rhythm: Rhythm = "fitting"
    if depletion >= 1:
        rhythm = "dries-out"
    elif depletion > allowed_depletion * (1 + 1e-9):
        rhythm = "too-seldom"
    elif depletion < TOO_SOON * allowed_depletion:
        rhythm = "too-often"
    return Overwatering(given / used, min(1.0, depletion), due, days, rhythm)


def days_to_next_watering(now_g: float, water_now_g: float, daily_use_l: float) -> float:
    """Return the days until a pot that weighs `now_g` is down to the weight at which it is watered.

    Weights 0 to 1000000 g, `daily_use_l` above 0 to 10000; raises OutOfRange. 0 when it is due already.
    Source: mass balance; one litre weighs 1000 g.
    """
    now = check_range("now_g", now_g, 0, 1e6, "g")
    due = check_range("water_now_g", water_now_g, 0, 1e6, "g")
    return max(0.0, now - due) / 1000 / check_above("daily_use_l", daily_use_l, 0, 10_000, "L")


def dry_down(
    available_l: float, daily_use_l: float, days: float, allowed_depletion: float = 0.5, steps: int = 48
) -> tuple[tuple[float, float], ...]:
    """Return the available water left, as pairs of day and litres, from full to `days` later.

    `available_l` and `daily_use_l` above 0 to 10000, `days` above 0 to 365, `allowed_depletion` above 0 to
    1, `steps` 1 to 1000. The plant takes its full share until `allowed_depletion` is reached and from then
    on less and less, in proportion to what is left. Raises OutOfRange.
    Source: FAO-56 equation 84, solved over time (the equation from memory).
    """
    stock = check_above("available_l", available_l, 0, 10_000, "L")
    span = check_above("days", days, 0, 365, "days")
    count = int(check_range("steps", steps, 1, 1000))
    easy_days = watering_interval_days(stock, daily_use_l, allowed_depletion)
    tight_l = stock * (1 - allowed_depletion)

    def left(day: float) -> float:
        if day <= easy_days:
            return stock - daily_use_l * day
        if tight_l <= 0:
            return 0.0
        return tight_l * math.exp(-daily_use_l * (day - easy_days) / tight_l)

    return tuple((day, max(0.0, left(day))) for day in (span * step / count for step in range(count + 1)))


@dataclass(frozen=True)
class RootOxygen:
    """Oxygen at the roots: what the water could hold, what it holds as a share of that, and a verdict."""

    saturation_mg_l: float
    saturated_share: float
    verdict: OxygenVerdict
    warm: bool


def root_oxygen(
    water_temp_c: float, dissolved_mg_l: float | None = None, pressure_kpa: float = STANDARD_PRESSURE_KPA
) -> RootOxygen:
    """Return the warning about oxygen in a nutrient solution.

    `water_temp_c` 0 to 40 °C, `dissolved_mg_l` 0 to 60, None when not measured (then the best that air can
    do is judged), `pressure_kpa` 50 to 110; raises OutOfRange. Below 3 mg/L is "harmful", below 5 "low"
    (both from memory; a published set point is 6 to 6.5, Foods 2022, PMC9103178); above 23 °C the roots are
    "warm" (Gold and Stanghellini 1985). Source of the saturation: `dissolved_oxygen_saturation_mg_l`.
    """
    best = dissolved_oxygen_saturation_mg_l(water_temp_c, pressure_kpa)
    held = best if dissolved_mg_l is None else check_range("dissolved_mg_l", dissolved_mg_l, 0, 60, "mg/L")
    verdict: OxygenVerdict = (
        "harmful" if held < HARMFUL_OXYGEN_MG_L else "low" if held < ENOUGH_OXYGEN_MG_L else "enough"
    )
    return RootOxygen(best, held / best, verdict, water_temp_c > WARM_ROOTS_C)


def dissolved_oxygen_saturation_mg_l(temp_c: float, pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Return the oxygen in mg/L that fresh water holds in balance with air.

    `temp_c` of the water 0 to 40 °C, `pressure_kpa` 50 to 110; raises OutOfRange. Source: APHA Standard
    Methods after Benson and Krause 1984, whose equation 24 corrects for pressure.
    """
    celsius = check_range("temp_c", temp_c, 0, 40, "°C")
    kelvin = celsius + 273.15
    at_one_atm = math.exp(
        -139.34411
        + 1.575701e5 / kelvin
        - 6.642308e7 / kelvin**2
        + 1.243800e10 / kelvin**3
        - 8.621949e11 / kelvin**4
    )
    pressure = check_range("pressure_kpa", pressure_kpa, 50, 110, "kPa") / _KPA_PER_ATM
    vapour = saturation_vapour_pressure_kpa(celsius) / _KPA_PER_ATM
    theta = 0.000975 - 1.426e-5 * celsius + 6.436e-8 * celsius**2
    correction = pressure * (1 - vapour / pressure) * (1 - theta * pressure) / ((1 - vapour) * (1 - theta))
    return at_one_atm * correction
