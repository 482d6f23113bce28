"""What leaves give off: an energy balance of the canopy for rooms with lamps, by leaf area or plant size."""

import math
from dataclasses import dataclass

from garden.agronomy.air import (
    STANDARD_PRESSURE_KPA,
    psychrometric_constant_kpa_c,
    saturation_slope_kpa_c,
    vpd_air_kpa,
)
from garden.agronomy.errors import check_above, check_range

# Of Graamans and others 2017, for lettuce in closed rooms (read in copies).
CANOPY_REFLECTS = 0.05
CANOPY_COVERS = 0.9
GROWN_LEAF_AREA_INDEX = 3.0
MOVING_AIR_RESISTANCE_S_M = 100.0
STILL_AIR_RESISTANCE_S_M = 200.0
PAR_UMOL_PER_JOULE = 4.6
_AIR_HEAT_J_M3_C = 1.2 * 1006


def latent_heat_mj_kg(temp_c: float) -> float:
    """Return the heat that evaporates a kilogram of water, in MJ, at `temp_c` (0 to 60 °C).

    Raises OutOfRange. Source: FAO-56 annex 3, which rounds it to 2.45 for its equation 6.
    """
    return 2.501 - 0.002361 * check_range("temp_c", temp_c, 0, 60, "°C")


def stomatal_resistance_s_m(ppfd_umol_m2_s: float) -> float:
    """Return how strongly lettuce leaves hold water back, in s/m, at `ppfd_umol_m2_s` (0 to 3000).

    450 in darkness, towards 60 in very strong light. Raises OutOfRange. Source: Graamans and others 2017,
    Agricultural Systems 153:138-147 (read in copies).
    """
    ppfd = check_range("ppfd_umol_m2_s", ppfd_umol_m2_s, 0, 3000, "µmol/m²/s")
    return 60 * (1500 + ppfd) / (200 + ppfd)


@dataclass(frozen=True)
class CanopyBalance:
    """Litres per m² of covered ground and hour; the leaves' temperature against the air's; heat fluxes.

    `from_air_w_m2` is the heat the leaves take from the air (below zero: they warm it).
    """

    litres_m2_h: float
    leaf_minus_air_c: float
    latent_w_m2: float
    absorbed_w_m2: float
    from_air_w_m2: float


def canopy_balance(
    ppfd_umol_m2_s: float,
    air_temp_c: float,
    rh_percent: float,
    leaf_area_index: float = GROWN_LEAF_AREA_INDEX,
    *,
    air_resistance_s_m: float = MOVING_AIR_RESISTANCE_S_M,
    covered_share: float = CANOPY_COVERS,
    pressure_kpa: float = STANDARD_PRESSURE_KPA,
) -> CanopyBalance:
    """Return what a canopy gives off in this light and air, per m² of ground it stands on.

    `ppfd_umol_m2_s` 0 to 3000, `air_temp_c` 5 to 45 °C, `rh_percent` 0 to 100, `leaf_area_index` (m² of
    leaf per m² of ground) above 0 to 10, `air_resistance_s_m` 20 to 500 (100 with fans, 200 in still air),
    `covered_share` of the light that meets leaves, 0 to 1, `pressure_kpa` 50 to 110; raises OutOfRange.
    Radiant heat of lamps beyond their light is left out, so hot lamps give more. Never below zero: dew is
    not counted. Source: Stanghellini's form of Penman-Monteith as in Graamans and others 2017, Agricultural
    Systems 153:138-147 (read in copies), validated there for lettuce; other crops may differ by half.
    """
    stomata = stomatal_resistance_s_m(ppfd_umol_m2_s)
    temp = check_range("air_temp_c", air_temp_c, 5, 45, "°C")
    leaves = check_above("leaf_area_index", leaf_area_index, 0, 10)
    boundary = check_range("air_resistance_s_m", air_resistance_s_m, 20, 500, "s/m")
    covered = check_range("covered_share", covered_share, 0, 1)
    deficit = vpd_air_kpa(temp, rh_percent)
    gamma = psychrometric_constant_kpa_c(pressure_kpa)
    absorbed = (1 - CANOPY_REFLECTS) * ppfd_umol_m2_s / PAR_UMOL_PER_JOULE * covered
    vapour = leaves * _AIR_HEAT_J_M3_C / (gamma * (boundary + stomata))  # W/m² for each kPa
    heat = leaves * _AIR_HEAT_J_M3_C / boundary  # W/m² for each °C
    warmer = (absorbed - vapour * deficit) / (heat + vapour * saturation_slope_kpa_c(temp))
    latent = max(0.0, absorbed - heat * warmer)
    return CanopyBalance(
        litres_m2_h=latent * 3600 / (latent_heat_mj_kg(temp) * 1e6),
        leaf_minus_air_c=warmer,
        latent_w_m2=latent,
        absorbed_w_m2=absorbed,
        from_air_w_m2=latent - absorbed,
    )


def daily_transpiration_l_m2(
    ppfd_umol_m2_s: float,
    photoperiod_h: float,
    air_temp_c: float,
    rh_percent: float,
    leaf_area_index: float = GROWN_LEAF_AREA_INDEX,
    *,
    night_temp_c: float | None = None,
    night_rh_percent: float | None = None,
    air_resistance_s_m: float = MOVING_AIR_RESISTANCE_S_M,
    covered_share: float = CANOPY_COVERS,
) -> float:
    """Return the litres per m² of ground that a canopy gives off in a day and its night.

    `photoperiod_h` 0 to 24; night values as those of the day, which stand in where they are None; the rest
    as for `canopy_balance`. Raises OutOfRange. Leaves close further at night than the formula has it, so
    long nights are overstated. Source: that of `canopy_balance`.
    """
    hours = check_range("photoperiod_h", photoperiod_h, 0, 24, "h")
    lit = canopy_balance(
        ppfd_umol_m2_s, air_temp_c, rh_percent, leaf_area_index,
        air_resistance_s_m=air_resistance_s_m, covered_share=covered_share,
    )  # fmt: skip
    dark = canopy_balance(
        0.0,
        air_temp_c if night_temp_c is None else night_temp_c,
        rh_percent if night_rh_percent is None else night_rh_percent,
        leaf_area_index,
        air_resistance_s_m=air_resistance_s_m,
        covered_share=covered_share,
    )
    return lit.litres_m2_h * hours + dark.litres_m2_h * (24 - hours)


def plant_spread_m2(diameter_m: float) -> float:
    """Return the ground under a plant of `diameter_m` (above 0 to 10 m), in m²; raises OutOfRange.

    Source: area of a circle.
    """
    return math.pi / 4 * check_above("diameter_m", diameter_m, 0, 10, "m") ** 2


def leaf_area_index(leaf_area_m2: float, spread_m2: float) -> float:
    """Return the m² of leaf (above 0 to 1000) over each m² of ground (above 0 to 1000), at most 10.

    Raises OutOfRange. Source: definition; leaves denser than 10 shade one another too well to count.
    """
    leaves = check_above("leaf_area_m2", leaf_area_m2, 0, 1000, "m²")
    return min(10.0, leaves / check_above("spread_m2", spread_m2, 0, 1000, "m²"))
