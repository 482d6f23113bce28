"""Carbon dioxide in a room: filling, holding, decay, whether it makes sense, and what people may breathe."""

import math
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.air import STANDARD_PRESSURE_KPA
from garden.agronomy.errors import check_above, check_range

OUTSIDE_PPM = 420.0
# Never more: plants gain nothing and people come nearer to the limits (from memory).
HIGHEST_TARGET_PPM = 1500.0
# Plants gain up to about here (Oklahoma State; Ontario OMAFRA 00-077).
USEFUL_TARGET_PPM = 1000.0
_GRAMS_PER_MOL = 44.0095
_GAS_J_MOL_K = 8.314463
_CARBON_TO_CO2 = 44.0095 / 12.011
# Share of carbon in dry plant matter: common practice, no source.
CARBON_SHARE = 0.40


def _ppm(field: str, value: float) -> float:
    return check_range(field, value, 0, 100_000, "ppm")


def _volume(value: float) -> float:
    return check_above("volume_m3", value, 0, 100_000, "m³")


def _changes(value: float) -> float:
    return check_range("changes_per_h", value, 0, 120, "per hour")


def co2_density_kg_m3(temp_c: float, pressure_kpa: float = STANDARD_PRESSURE_KPA) -> float:
    """Return the density of pure carbon dioxide in kg/m³, as an ideal gas (0.7 % low at 0 °C).

    `temp_c` -20 to 60 °C, `pressure_kpa` 50 to 110; raises OutOfRange. Source: ideal gas.
    """
    kelvin = check_range("temp_c", temp_c, -20, 60, "°C") + 273.15
    return (
        check_range("pressure_kpa", pressure_kpa, 50, 110, "kPa") * _GRAMS_PER_MOL / (_GAS_J_MOL_K * kelvin)
    )


def co2_mg_m3(ppm: float, temp_c: float = 25.0) -> float:
    """Return milligrams of carbon dioxide in a m³ of air of `ppm` (0 to 100000) by volume.

    `temp_c` -20 to 60 °C; raises OutOfRange. Source: ideal gas; limits are stated at 25 °C.
    """
    return _ppm("ppm", ppm) * co2_density_kg_m3(temp_c)


@dataclass(frozen=True)
class Co2Dose:
    """An amount of carbon dioxide as gas and by weight."""

    litres: float
    grams: float


def co2_fill(volume_m3: float, from_ppm: float, to_ppm: float, temp_c: float = 25.0) -> Co2Dose:
    """Return the carbon dioxide that lifts a closed room from one level to another.

    `volume_m3` above 0 to 100000, `to_ppm` up to 1500 and not below `from_ppm`, `temp_c` -20 to 60 °C;
    raises OutOfRange. Source: mass balance and ideal gas.
    """
    start = check_range("from_ppm", from_ppm, 0, HIGHEST_TARGET_PPM, "ppm")
    rise = check_range("to_ppm", to_ppm, start, HIGHEST_TARGET_PPM, "ppm (the start to the most)") - start
    litres = _volume(volume_m3) * rise / 1000
    return Co2Dose(litres, litres * co2_density_kg_m3(temp_c))


def co2_hold_g_h(
    volume_m3: float,
    changes_per_h: float,
    inside_ppm: float,
    outside_ppm: float = OUTSIDE_PPM,
    *,
    uptake_g_h: float = 0.0,
    temp_c: float = 25.0,
) -> float:
    """Return the grams an hour that hold a room at `inside_ppm` against its leaks and its plants.

    `volume_m3` above 0 to 100000, `changes_per_h` of air 0 to 120, `outside_ppm` 0 to 1500, `inside_ppm`
    from there to 1500, `uptake_g_h` by the plants 0 to 100000, `temp_c` -20 to 60 °C; raises OutOfRange.
    Source: mass balance.
    """
    outside = check_range("outside_ppm", outside_ppm, 0, HIGHEST_TARGET_PPM, "ppm")
    inside = check_range("inside_ppm", inside_ppm, outside, HIGHEST_TARGET_PPM, "ppm (outside to the most)")
    lost_l_h = _volume(volume_m3) * _changes(changes_per_h) * (inside - outside) / 1000
    return lost_l_h * co2_density_kg_m3(temp_c) + check_range("uptake_g_h", uptake_g_h, 0, 100_000, "g/h")


def co2_uptake_g_h(ppfd_umol_m2_s: float, area_m2: float, dry_g_mol: float = 0.87) -> float:
    """Return the grams of carbon dioxide an hour that go into a full canopy's growth.

    `ppfd_umol_m2_s` 0 to 3000, `area_m2` above 0 to 10000, `dry_g_mol` of shoot dry matter per mol of light
    0.1 to 2 (lettuce 1.01, 0.87, 0.76 at 200, 400, 750 µmol/m²/s: Carotti and others 2021). Roots come on
    top. Raises OutOfRange. Source: mass balance of carbon, 40 % of dry matter (common practice, no source).
    """
    photons = check_range("ppfd_umol_m2_s", ppfd_umol_m2_s, 0, 3000, "µmol/m²/s") * 3600e-6
    area = check_above("area_m2", area_m2, 0, 10_000, "m²")
    dry = check_range("dry_g_mol", dry_g_mol, 0.1, 2, "g/mol")
    return photons * area * dry * CARBON_SHARE * _CARBON_TO_CO2


def co2_after_ppm(
    start_ppm: float, changes_per_h: float, hours: float, outside_ppm: float = OUTSIDE_PPM
) -> float:
    """Return the level in a leaking room `hours` (0 to 1000) after the supply stopped.

    Levels 0 to 100000 ppm, `changes_per_h` of air 0 to 120; raises OutOfRange. Plants and people left out.
    Source: well-mixed room, exponential decay.
    """
    start, outside = _ppm("start_ppm", start_ppm), _ppm("outside_ppm", outside_ppm)
    exchanged = _changes(changes_per_h) * check_range("hours", hours, 0, 1000, "h")
    return outside + (start - outside) * math.exp(-exchanged)


def leakage_changes_per_h(
    start_ppm: float, end_ppm: float, hours: float, outside_ppm: float = OUTSIDE_PPM
) -> float:
    """Return the air changes an hour of a room without plants from how its level fell.

    `outside_ppm` 0 to 100000, `start_ppm` above it, `end_ppm` above it and up to `start_ppm`, `hours` above
    0 to 100; raises OutOfRange. Source: that of `co2_after_ppm`, solved for the leak.
    """
    outside = _ppm("outside_ppm", outside_ppm)
    start = check_above("start_ppm", start_ppm, outside, 100_000, "ppm")
    end = check_above("end_ppm", end_ppm, outside, start, "ppm (the start)")
    return math.log((start - outside) / (end - outside)) / check_above("hours", hours, 0, 100, "h")


EnrichmentVerdict = Literal["air-first", "light-first", "seal-first", "small-gain", "worth-trying"]
# Rules of thumb: common practice, no source.
LITTLE_LIGHT_UMOL_M2_S = 200.0
MUCH_LIGHT_UMOL_M2_S = 400.0
LEAKY_CHANGES_PER_H = 1.0
STARVED_PPM = 350.0


@dataclass(frozen=True)
class Enrichment:
    """Whether to enrich, what must come first, and the level to aim at (None when not to)."""

    verdict: EnrichmentVerdict
    target_ppm: float | None


def enrichment(ppfd_umol_m2_s: float, changes_per_h: float, co2_now_ppm: float | None = None) -> Enrichment:
    """Return whether enrichment makes sense at this light and with this leakage.

    `ppfd_umol_m2_s` 0 to 3000, `changes_per_h` of air while lamps are on 0 to 120, `co2_now_ppm` 0 to
    100000 or None; raises OutOfRange. A room starved of air wants fresh air ("air-first", below 350 ppm; a
    closed house can fall to 150 to 200: Oklahoma State); below 200 µmol/m²/s light limits ("light-first");
    above one air change an hour the gas blows away ("seal-first"); up to 400 µmol/m²/s 800 ppm give a
    "small-gain", above 1000 ppm are "worth-trying". These limits are common practice, no source; that 700
    to 800 ppm already show and 1000 suffice: Oklahoma State and Ontario OMAFRA 00-077 (read).
    """
    light = check_range("ppfd_umol_m2_s", ppfd_umol_m2_s, 0, 3000, "µmol/m²/s")
    leak = _changes(changes_per_h)
    if co2_now_ppm is not None and _ppm("co2_now_ppm", co2_now_ppm) < STARVED_PPM:
        return Enrichment("air-first", None)
    if light < LITTLE_LIGHT_UMOL_M2_S:
        return Enrichment("light-first", None)
    if leak > LEAKY_CHANGES_PER_H:
        return Enrichment("seal-first", None)
    if light < MUCH_LIGHT_UMOL_M2_S:
        return Enrichment("small-gain", 800.0)
    return Enrichment("worth-trying", USEFUL_TARGET_PPM)


ExposureCode = Literal["eight-hours", "fifteen-minutes", "immediate-danger", "unconscious"]


@dataclass(frozen=True)
class ExposureLimit:
    """What people may breathe. `minutes`: for how long; None: not even once."""

    code: ExposureCode
    ppm: float
    minutes: int | None
    source: str
    status: str


_NIOSH = "NIOSH, carbon dioxide (CAS 124-38-9), page on levels immediately dangerous to life or health"
_LISTED = f"OSHA PEL, NIOSH REL, ACGIH TLV, as listed by {_NIOSH}"
# Local law may be stricter. The 10 000 ppm printed in many places was set aside by a court.
EXPOSURE_LIMITS: tuple[ExposureLimit, ...] = (
    ExposureLimit("eight-hours", 5_000, 480, _LISTED, "read-in-copy"),
    ExposureLimit("fifteen-minutes", 30_000, 15, f"NIOSH and ACGIH, as listed by {_NIOSH}", "read-in-copy"),
    ExposureLimit("immediate-danger", 40_000, None, f"{_NIOSH}, revised 1994", "memory"),
    ExposureLimit("unconscious", 100_000, None, _NIOSH, "read-in-copy"),
)


def exposure_reached(ppm: float) -> ExposureCode | None:
    """Return the gravest exposure limit that `ppm` (0 to 1000000) reaches, None below all of them.

    Raises OutOfRange. Source: EXPOSURE_LIMITS.
    """
    level = check_range("ppm", ppm, 0, 1_000_000, "ppm")
    reached = [limit.code for limit in EXPOSURE_LIMITS if level >= limit.ppm]
    return reached[-1] if reached else None
