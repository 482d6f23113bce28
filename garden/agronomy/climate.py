"""The room: heat of lamps, the air that carries it off, the water plants give off, and the fan for it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.air import absolute_humidity_g_m3, humidity_ratio
from garden.agronomy.errors import AgronomyError, OutOfRange, check_above, check_range
from garden.agronomy.watering import LATENT_HEAT_MJ_KG

AIR_DENSITY_KG_M3 = 1.2
AIR_HEAT_J_KG_C = 1006.0
BTU_H_PER_W = 3.412142
M3_H_PER_CFM = 1.699011
LITRES_PER_US_PINT = 0.473176
# Of handbooks for standard air, in US units: BTU/h = factor x CFM x difference.
SENSIBLE_BTU_H_PER_CFM_F = 1.08
LATENT_BTU_H_PER_CFM_GRAIN = 0.68
LATENT_BTU_H_PER_CFM_LB = 4840.0
# What filters and ducts take from a fan: common practice, no source. The fan's own curve wins.
FILTER_LOSS = 0.25
DUCT_LOSS_PER_M = 0.02
BEND_LOSS = 0.05
LARGEST_LOSS = 0.7

_M3_H_W_C = AIR_DENSITY_KG_M3 * AIR_HEAT_J_KG_C / 3600
_MOST_W, _MOST_M3_H = 1e6, 1e6


def btu_h(watts: float) -> float:
    """Return `watts` (0 to 1000000) in BTU/h; raises OutOfRange. Source: definition of the units."""
    return check_range("watts", watts, 0, _MOST_W, "W") * BTU_H_PER_W


def cfm(airflow_m3_h: float) -> float:
    """Return an air flow in m³/h (0 to 1000000) in cubic feet a minute; raises OutOfRange. Source: units."""
    return check_range("airflow_m3_h", airflow_m3_h, 0, _MOST_M3_H, "m³/h") / M3_H_PER_CFM


def us_pints(litres: float) -> float:
    """Return litres (0 to 1000000) in US pints; raises OutOfRange. Source: definition of the units."""
    return check_range("litres", litres, 0, 1e6, "L") / LITRES_PER_US_PINT


def sensible_heat_w(airflow_m3_h: float, rise_c: float) -> float:
    """Return the heat in W that air takes along when it leaves `rise_c` warmer than it came.

    `airflow_m3_h` 0 to 1000000, `rise_c` 0 to 50 °C; raises OutOfRange. Source: heat capacity of air of
    1.2 kg/m³ and 1006 J/kg°C, which is the rule of 1.08 BTU/h per CFM and °F.
    """
    flow = check_range("airflow_m3_h", airflow_m3_h, 0, _MOST_M3_H, "m³/h")
    return _M3_H_W_C * flow * check_range("rise_c", rise_c, 0, 50, "°C")


def airflow_for_heat_m3_h(heat_w: float, rise_c: float) -> float:
    """Return the air flow in m³/h that carries `heat_w` off when the room may be `rise_c` over the intake.

    `heat_w` 0 to 1000000, `rise_c` 0.5 to 50 °C (cooling below the intake air needs a cooler, not a fan);
    raises OutOfRange. Source: that of `sensible_heat_w`.
    """
    heat = check_range("heat_w", heat_w, 0, _MOST_W, "W")
    return heat / (_M3_H_W_C * check_range("rise_c", rise_c, 0.5, 50, "°C"))


def sensible_heat_btu_h(airflow_cfm: float, rise_f: float) -> float:
    """Return the heat in BTU/h by the handbook rule 1.08 x CFM x °F.

    `airflow_cfm` 0 to 1000000, `rise_f` 0 to 90 °F; raises OutOfRange. Source: ASHRAE standard air.
    """
    flow = check_range("airflow_cfm", airflow_cfm, 0, 1e6, "CFM")
    return SENSIBLE_BTU_H_PER_CFM_F * flow * check_range("rise_f", rise_f, 0, 90, "°F")


def latent_heat_btu_h(airflow_cfm: float, grains_lb: float) -> float:
    """Return the heat in BTU/h of water removed, by the handbook rule 0.68 x CFM x grains per pound.

    `airflow_cfm` 0 to 1000000, `grains_lb` (difference) 0 to 500; raises OutOfRange.
    Source: ASHRAE standard air.
    """
    flow = check_range("airflow_cfm", airflow_cfm, 0, 1e6, "CFM")
    return LATENT_BTU_H_PER_CFM_GRAIN * flow * check_range("grains_lb", grains_lb, 0, 500, "gr/lb")


def lamp_heat_w_m2(ppfd_umol_m2_s: float, efficacy_umol_j: float) -> float:
    """Return the electricity, all of it heat in the end, behind each m² of light.

    `ppfd_umol_m2_s` 0 to 3000, `efficacy_umol_j` above 0 to 5; raises OutOfRange. Light that misses the
    canopy comes on top. Source: conservation of energy and definition of efficacy.
    """
    ppfd = check_range("ppfd_umol_m2_s", ppfd_umol_m2_s, 0, 3000, "µmol/m²/s")
    return ppfd / check_above("efficacy_umol_j", efficacy_umol_j, 0, 5, "µmol/J")


def latent_heat_w(litres_day: float, hours: float = 24.0) -> float:
    """Return the heat in W that evaporating `litres_day` (0 to 10000) binds, spread over `hours` a day.

    `hours` above 0 to 24; raises OutOfRange. Source: 2.45 MJ/kg (FAO-56), 28.4 W for a litre a day.
    """
    litres = check_range("litres_day", litres_day, 0, 10_000, "L/d")
    seconds = check_above("hours", hours, 0, 24, "h") * 3600
    return litres * LATENT_HEAT_MJ_KG * 1e6 / seconds


@dataclass(frozen=True)
class Cooling:
    """What a cooler must take out while the lamps are on: of it `latent_w` as water, the rest as heat."""

    total_w: float
    sensible_w: float
    latent_w: float
    total_btu_h: float


def cooling_load(
    lamp_w: float,
    hours: float,
    *,
    other_w: float = 0.0,
    transpired_l_d: float = 0.0,
    dehumidifier_w: float = 0.0,
) -> Cooling:
    """Return the load of a cooler in a closed room while the lamps are on.

    `lamp_w` of electricity and `other_w` (pumps, fans, heat through walls) 0 to 1000000, `hours` of light
    above 0 to 24, `transpired_l_d` 0 to 10000 in those hours, `dehumidifier_w` of electricity 0 to 100000.
    With a dehumidifier the water is condensed in the room and its heat stays there, so all of the load is
    dry; without one the cooler condenses it. Water cannot bind more heat than there is: the latent part is
    held to the total. Raises OutOfRange. An installer who knows the room decides. Source: conservation of
    energy.
    """
    heat = check_range("lamp_w", lamp_w, 0, _MOST_W, "W") + check_range("other_w", other_w, 0, _MOST_W, "W")
    drier = check_range("dehumidifier_w", dehumidifier_w, 0, 100_000, "W")
    bound = latent_heat_w(transpired_l_d, hours)
    total = heat + drier
    latent = 0.0 if drier > 0 else min(bound, total)
    return Cooling(total, total - latent, latent, total * BTU_H_PER_W)


def moisture_load_l_d(given_l_d: float, drained_l_d: float, open_water_l_d: float = 0.0) -> float:
    """Return the litres of water a day that end up in the air of a room.

    `given_l_d` to the plants 0 to 10000, `drained_l_d` out of the room 0 to `given_l_d`, `open_water_l_d`
    evaporating from tanks and floors 0 to 1000; raises OutOfRange. What stays in the plants, a few per cent,
    is counted as evaporated. Source: mass balance.
    """
    given = check_range("given_l_d", given_l_d, 0, 10_000, "L/d")
    drained = check_range("drained_l_d", drained_l_d, 0, given, "L/d (the water given)")
    return given - drained + check_range("open_water_l_d", open_water_l_d, 0, 1000, "L/d")


def airflow_for_moisture_m3_h(
    litres_h: float,
    room_temp_c: float,
    room_rh_percent: float,
    outside_temp_c: float,
    outside_rh_percent: float,
) -> float:
    """Return the air flow in m³/h that carries off `litres_h` of water while the room stays as wanted.

    `litres_h` 0 to 1000; temperatures -20 to 60 °C and humidities 0 to 100 % of the room's wanted and the
    incoming air. Raises OutOfRange, also when the incoming air holds as much water as the room may, since
    no amount of it would dry the room. Source: mass balance of water vapour.
    """
    litres = check_range("litres_h", litres_h, 0, 1000, "L/h")
    inside = absolute_humidity_g_m3(room_temp_c, room_rh_percent)
    # Per cubic metre of the room's air, into which the incoming air expands.
    outside = absolute_humidity_g_m3(outside_temp_c, outside_rh_percent)
    outside *= (outside_temp_c + 273.15) / (room_temp_c + 273.15)
    if inside - outside < 0.1:
        raise OutOfRange(
            "outside_rh_percent", outside_rh_percent, f"so dry that its air holds under {inside:.1f} g/m³"
        )
    return 1000 * litres / (inside - outside)


# Air at which makers state what a dehumidifier takes out, °C and %: both from memory.
RatedAt = Literal["30c-80", "27c-60"]
_RATINGS: dict[RatedAt, tuple[float, float]] = {"30c-80": (30.0, 80.0), "27c-60": (26.7, 60.0)}
COLD_COIL_C = 15.0


@dataclass(frozen=True)
class Dehumidifier:
    """Litres a day to take out, the rating to buy, and what is left of a rating in this room's air."""

    moisture_l_d: float
    rated_l_d: float
    rated_us_pints: float
    capacity_share: float
    cold: bool


def dehumidifier_size(
    moisture_l_d: float,
    room_temp_c: float,
    room_rh_percent: float,
    *,
    rated_at: RatedAt = "30c-80",
    allowance: float = 1.2,
) -> Dehumidifier:
    """Return the size of a dehumidifier for `moisture_l_d` (0 to 10000) in the room's air.

    `room_temp_c` 5 to 45 °C, `room_rh_percent` 20 to 100, `rated_at` the air of the maker's figure,
    `allowance` 1 to 3 (a fifth on top is common practice, no source). Nearly all water given and not
    drained must be taken out. In cooler or drier air than that of the rating a machine takes out less;
    its share is estimated as that of the air's water (judgement: the maker's table wins), at most 1. "cold":
    below 15 °C the coil ices up. Raises OutOfRange.
    """
    moisture = check_range("moisture_l_d", moisture_l_d, 0, 10_000, "L/d")
    temp = check_range("room_temp_c", room_temp_c, 5, 45, "°C")
    humidity = check_range("room_rh_percent", room_rh_percent, 20, 100, "%")
    share = min(1.0, humidity_ratio(temp, humidity) / humidity_ratio(*_RATINGS[rated_at]))
    rated = moisture * check_range("allowance", allowance, 1, 3) / share
    return Dehumidifier(moisture, rated, us_pints(rated), share, temp < COLD_COIL_C)


Allowance = Literal["filter", "duct", "bends"]


@dataclass(frozen=True)
class Fan:
    """The air that must move, the free-air rating to buy, and the allowances between them, as shares."""

    needed_m3_h: float
    rated_m3_h: float
    rated_cfm: float
    allowances: tuple[tuple[Allowance, float], ...]


def fan_size(needed_m3_h: float, *, carbon_filter: bool = False, duct_m: float = 0.0, bends: int = 0) -> Fan:
    """Return the fan for an air flow, with stated allowances for filter and duct.

    `needed_m3_h` above 0 to 1000000, `duct_m` 0 to 50, `bends` (right angles) 0 to 20. A carbon filter
    takes 25 %, each metre of duct 2 %, each bend 5 % of what is left before it (common practice, no source:
    the fan's own curve wins). Raises OutOfRange, and AgronomyError when they take more than 70 % together.
    """
    needed = check_above("needed_m3_h", needed_m3_h, 0, _MOST_M3_H, "m³/h")
    metres = check_range("duct_m", duct_m, 0, 50, "m")
    turns = check_range("bends", bends, 0, 20)
    shares: Sequence[tuple[Allowance, float]] = (
        ("filter", FILTER_LOSS if carbon_filter else 0.0),
        ("duct", 1 - (1 - DUCT_LOSS_PER_M) ** metres),
        ("bends", 1 - (1 - BEND_LOSS) ** turns),
    )
    left = 1.0
    for _name, share in shares:
        left *= 1 - share
    if left < 1 - LARGEST_LOSS:
        raise AgronomyError(
            f"duct_m is {metres:g} m with {turns:g} bends, which leave {100 * left:.0f} % of the air; "
            "shorten or widen the duct so that at least 30 % is left."
        )
    rated = needed / left
    return Fan(needed, rated, rated / M3_H_PER_CFM, tuple(pair for pair in shares if pair[1] > 0))


def airflow_for_changes_m3_h(volume_m3: float, changes_per_h: float) -> float:
    """Return the air flow in m³/h that renews a room's air `changes_per_h` times (0 to 120) an hour.

    `volume_m3` above 0 to 100000; raises OutOfRange. Source: definition of air changes.
    """
    volume = check_above("volume_m3", volume_m3, 0, 100_000, "m³")
    return volume * check_range("changes_per_h", changes_per_h, 0, 120, "per hour")
