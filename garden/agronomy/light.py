"""Light for plants: daily light integral, lamps, distance, and what a lux meter can tell."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from garden.agronomy.errors import AgronomyError, OutOfRange, check_above, check_range

MAX_PPFD_UMOL_M2_S = 3000
LUX_PER_FOOT_CANDLE = 10.764
_MOL_PER_UMOL_HOUR = 3600e-6
# How far the true factor of a lamp may lie from the printed one: one tenth for white LED (Sharakshane 2018);
# one twentieth for the others, whose lamps differ less (judgement). The meter's own error comes on top.
LUX_UNCERTAINTY: Mapping[str, float] = MappingProxyType(
    {"led-white": 0.10, "hps": 0.05, "metal-halide": 0.05, "fluorescent": 0.05, "sun": 0.05}
)
# Lux per µmol/m²/s of light that is no lamp of the reference data: Thimijan and Heins 1983.
DAYLIGHT_LUX_PER_UMOL: Mapping[str, float] = MappingProxyType(
    {"sun": 54.0, "blue-sky": 52.0, "incandescent": 50.0}
)
# µmol per joule of light from 400 to 700 nm: Thimijan and Heins 1983.
UMOL_PER_JOULE: Mapping[str, float] = MappingProxyType(
    {"sun": 4.57, "blue-sky": 4.24, "metal-halide": 4.59, "hps": 4.98, "fluorescent": 4.59,
     "incandescent": 5.0}
)  # fmt: skip
LONGEST_DAY_H = 18.0

DliVerdict = Literal["far-below", "below", "inside", "above", "far-above", "no-band"]


class NoLuxFactorError(AgronomyError):
    """Lux of this lamp cannot be turned into PPFD."""

    def __init__(self) -> None:
        super().__init__(
            "lux_per_umol is not known for this lamp, so lux cannot be converted; "
            "measure PPFD with a quantum meter."
        )


def _ppfd(field: str, value: float) -> float:
    return check_range(field, value, 0, MAX_PPFD_UMOL_M2_S, "µmol/m²/s")


def _ppfd_above_zero(field: str, value: float) -> float:
    return check_above(field, value, 0, MAX_PPFD_UMOL_M2_S, "µmol/m²/s")


def dli_mol_m2_d(ppfd_umol_m2_s: float, hours: float) -> float:
    """Return the daily light integral in mol/m²/d of constant light.

    `ppfd_umol_m2_s` 0 to 3000, `hours` 0 to 24; raises OutOfRange. Source: unit identity.
    """
    return (
        _ppfd("ppfd_umol_m2_s", ppfd_umol_m2_s) * check_range("hours", hours, 0, 24, "h") * _MOL_PER_UMOL_HOUR
    )


def ppfd_for_dli_umol_m2_s(dli_mol_m2_d: float, hours: float) -> float:
    """Return the constant PPFD in µmol/m²/s that gives `dli_mol_m2_d` (0 to 100) in `hours` (above 0 to 24).

    Raises OutOfRange. Source: unit identity.
    """
    dli = check_range("dli_mol_m2_d", dli_mol_m2_d, 0, 100, "mol/m²/d")
    return dli / (check_above("hours", hours, 0, 24, "h") * _MOL_PER_UMOL_HOUR)


def hours_for_dli_h(dli_mol_m2_d: float, ppfd_umol_m2_s: float) -> float:
    """Return the hours a day in which `ppfd_umol_m2_s` (above 0 to 3000) gives `dli_mol_m2_d`.

    `dli_mol_m2_d` from 0 to what 24 hours of that light give; raises OutOfRange. Source: unit identity.
    """
    per_hour = _ppfd_above_zero("ppfd_umol_m2_s", ppfd_umol_m2_s) * _MOL_PER_UMOL_HOUR
    # The limit allows for rounding, so that the integral of exactly 24 hours is not refused.
    limit = 24 * per_hour * (1 + 1e-9)
    return min(
        24.0, check_range("dli_mol_m2_d", dli_mol_m2_d, 0, limit, "mol/m²/d with this light") / per_hour
    )


def lamp_photon_flux_umol_s(watts: float, efficacy_umol_j: float) -> float:
    """Return the photon flux of a lamp in µmol/s.

    `watts` of electricity 0 to 20000, `efficacy_umol_j` above 0 to 5; raises OutOfRange.
    Source: definition of efficacy (Nelson and Bugbee 2014).
    """
    power = check_range("watts", watts, 0, 20_000, "W")
    return power * check_above("efficacy_umol_j", efficacy_umol_j, 0, 5, "µmol/J")


def mean_ppfd_umol_m2_s(photon_flux_umol_s: float, area_m2: float, utilisation: float = 0.8) -> float:
    """Return the mean PPFD in µmol/m²/s that lamps give on an area: an estimate.

    `photon_flux_umol_s` 0 to 100000, `area_m2` above 0 to 10000, `utilisation` (share of the light that
    reaches the crop) above 0 to 1; raises OutOfRange. The usual utilisation of 0.7 to 0.9 is common
    practice, no source. Source: conservation of photons.
    """
    flux = check_range("photon_flux_umol_s", photon_flux_umol_s, 0, 100_000, "µmol/s")
    area = check_above("area_m2", area_m2, 0, 10_000, "m²")
    return flux * check_above("utilisation", utilisation, 0, 1) / area


def dim_fraction(ppfd_umol_m2_s: float, target_umol_m2_s: float) -> float:
    """Return the share of its present output (0 to 1) that a lamp is dimmed to for a lower PPFD.

    `ppfd_umol_m2_s` above 0 to 3000, `target_umol_m2_s` 0 to `ppfd_umol_m2_s`; raises OutOfRange.
    Source: output and PPFD are proportional for a fixed lamp.
    """
    now = _ppfd_above_zero("ppfd_umol_m2_s", ppfd_umol_m2_s)
    return check_range("target_umol_m2_s", target_umol_m2_s, 0, now, "µmol/m²/s (the present light)") / now


def height_for_ppfd_m(height_m: float, ppfd_umol_m2_s: float, target_umol_m2_s: float) -> float:
    """Return the height of the lamp over the canopy, in metres, for another PPFD: an estimate.

    `height_m` above 0 to 20, both PPFD above 0 to 3000; raises OutOfRange. Inverse square, true only for
    a lamp small against its height; light of tubes and panels falls off more slowly, so measure again.
    """
    now = _ppfd_above_zero("ppfd_umol_m2_s", ppfd_umol_m2_s)
    target = _ppfd_above_zero("target_umol_m2_s", target_umol_m2_s)
    return float(check_above("height_m", height_m, 0, 20, "m") * (now / target) ** 0.5)


def lux_to_ppfd_umol_m2_s(lux: float, lux_per_umol: float | None) -> float:
    """Return PPFD in µmol/m²/s from a lux reading (0 to 200000) by the factor of the lamp (10 to 200).

    Raises NoLuxFactorError when the lamp has none (None), OutOfRange otherwise.
    Source of the factors: Thimijan and Heins 1983; Sharakshane 2018 for white LED, good to about ±10 %.
    """
    if lux_per_umol is None:
        raise NoLuxFactorError
    factor = check_range("lux_per_umol", lux_per_umol, 10, 200, "lux per µmol/m²/s")
    return check_range("lux", lux, 0, 200_000, "lux") / factor


@dataclass(frozen=True)
class PpfdRange:
    """A PPFD in µmol/m²/s with the range in which the true one is likely to lie."""

    ppfd_umol_m2_s: float
    low_umol_m2_s: float
    high_umol_m2_s: float


def lux_to_ppfd_range(lux: float, lux_per_umol: float | None, uncertainty: float = 0.10) -> PpfdRange:
    """Return PPFD from a lux reading with its uncertainty.

    `lux` 0 to 200000, `lux_per_umol` the factor of the lamp (10 to 200), `uncertainty` of that factor as a
    share, 0 to 0.5 (see LUX_UNCERTAINTY). Raises NoLuxFactorError for a lamp without a factor, as red-blue
    LED, OutOfRange otherwise. Source: as for `lux_to_ppfd_umol_m2_s`; the range is the factor's own.
    """
    ppfd = lux_to_ppfd_umol_m2_s(lux, lux_per_umol)
    share = check_range("uncertainty", uncertainty, 0, 0.5)
    return PpfdRange(ppfd, ppfd / (1 + share), ppfd / (1 - share))


def foot_candles_to_lux(foot_candles: float) -> float:
    """Return lux from foot-candles (0 to 18500); raises OutOfRange. Source: one lumen per square foot."""
    return check_range("foot_candles", foot_candles, 0, 18_500, "fc") * LUX_PER_FOOT_CANDLE


def par_power_to_ppfd_umol_m2_s(power_w_m2: float, light: str) -> float:
    """Return PPFD in µmol/m²/s from the power of light between 400 and 700 nm.

    `power_w_m2` 0 to 650, `light` a key of UMOL_PER_JOULE; raises OutOfRange, and AgronomyError for a light
    without a factor. Source: Thimijan and Heins 1983.
    """
    power = check_range("power_w_m2", power_w_m2, 0, 650, "W/m²")
    if light not in UMOL_PER_JOULE:
        allowed = ", ".join(UMOL_PER_JOULE)
        raise AgronomyError(f"light is “{light}”, which has no factor; allowed are {allowed}.")
    return power * UMOL_PER_JOULE[light]


def judge_dli(
    dli_mol_m2_d: float,
    low: float | None,
    high: float | None,
    wide_low: float | None = None,
    wide_high: float | None = None,
) -> DliVerdict:
    """Return where a daily light integral (0 to 100 mol/m²/d) lies in the crop's band.

    `low` and `high` are the comfortable limits, `wide_low` and `wide_high` the tolerated ones, None where
    unknown; "far" means beyond a tolerated limit, or beyond the comfortable one where no tolerated one is
    known. Raises OutOfRange. Source: the band's own.
    """
    dli = check_range("dli_mol_m2_d", dli_mol_m2_d, 0, 100, "mol/m²/d")
    if low is None and high is None:
        return "no-band"
    if low is not None and dli < low:
        return "below" if wide_low is not None and dli >= wide_low else "far-below"
    if high is not None and dli > high:
        return "above" if wide_high is not None and dli <= wide_high else "far-above"
    return "inside"


def height_range_for_ppfd_m(
    height_m: float, ppfd_umol_m2_s: float, target_umol_m2_s: float
) -> tuple[float, float]:
    """Return the lower and the upper height, in metres, between which the wanted PPFD is found.

    One end is that of a lamp small against its height (inverse square), the other that of a long tube
    (inverse distance); rows of panels over a whole space fall off more slowly still, so measure again.
    `height_m` above 0 to 20, both PPFD above 0 to 3000; raises OutOfRange. Source: geometry of light.
    """
    small = height_for_ppfd_m(height_m, ppfd_umol_m2_s, target_umol_m2_s)
    tube = height_m * ppfd_umol_m2_s / target_umol_m2_s
    return min(small, tube), max(small, tube)


@dataclass(frozen=True)
class LightChange:
    """Three ways to a daily light integral, each alone. None: that way cannot reach it.

    `output_share`: what the lamps must give, as a share of what they give now (below 1: dim to it).
    `hours`: the day's length with the lamps as they are. `height_m`: the lamps' height, an estimate.
    """

    output_share: float
    hours: float | None
    height_m: float | None
    target_ppfd_umol_m2_s: float


def light_change(
    ppfd_umol_m2_s: float,
    hours: float,
    target_dli_mol_m2_d: float,
    height_m: float | None = None,
    longest_day_h: float = LONGEST_DAY_H,
) -> LightChange:
    """Return by how much to dim or brighten, to shorten or lengthen the day, or to move the lamps.

    `ppfd_umol_m2_s` now, above 0 to 3000, for `hours` a day, above 0 to 24; `target_dli_mol_m2_d` above 0
    to 100 and not more than PPFD 3000 in those hours; `height_m` of the lamps above 0 to 20, None when
    unknown; `longest_day_h` above 0 to 24, the longest day the crop should get (18 is common practice, no
    source; days of 24 h injure tomato). Raises OutOfRange. Source: unit identity and inverse square.
    """
    now = dli_mol_m2_d(_ppfd_above_zero("ppfd_umol_m2_s", ppfd_umol_m2_s), hours)
    check_above("hours", hours, 0, 24, "h")
    limit = MAX_PPFD_UMOL_M2_S * hours * _MOL_PER_UMOL_HOUR
    target = check_above("target_dli_mol_m2_d", target_dli_mol_m2_d, 0, min(100, limit), "mol/m²/d")
    longest = check_above("longest_day_h", longest_day_h, 0, 24, "h")
    wanted = ppfd_for_dli_umol_m2_s(target, hours)
    day = hours * target / now
    moved = None
    if height_m is not None:
        try:
            moved = height_for_ppfd_m(height_m, ppfd_umol_m2_s, min(wanted, MAX_PPFD_UMOL_M2_S))
        except OutOfRange:
            check_above("height_m", height_m, 0, 20, "m")
    return LightChange(
        output_share=target / now,
        hours=day if day <= longest else None,
        height_m=moved,
        target_ppfd_umol_m2_s=wanted,
    )


RampKind = Literal["seedlings", "moved-plants"]


@dataclass(frozen=True)
class RampStep:
    """From `day` on: the light, and the share of the final light."""

    day: int
    ppfd_umol_m2_s: float
    share: float


# Largest step up, as a factor, and the days before the next one: common practice, no source.
_RAMPS: Mapping[RampKind, tuple[float, int]] = MappingProxyType(
    {"seedlings": (1.25, 2), "moved-plants": (1.5, 3)}
)


def light_ramp(from_ppfd_umol_m2_s: float, to_ppfd_umol_m2_s: float, kind: RampKind) -> tuple[RampStep, ...]:
    """Return the days and the light by which plants are led to stronger light.

    Both PPFD above 0 to 3000; `kind` is "seedlings" (at most a quarter more every 2 days) or
    "moved-plants" (at most half more every 3 days, for plants under new lamps). The first step is taken on
    day 0; without any increase it is the only one. Raises OutOfRange. Steps: common practice, no source.
    """
    start = _ppfd_above_zero("from_ppfd_umol_m2_s", from_ppfd_umol_m2_s)
    end = _ppfd_above_zero("to_ppfd_umol_m2_s", to_ppfd_umol_m2_s)
    largest, days = _RAMPS[kind]
    if end <= start:
        return (RampStep(0, end, 1.0),)
    # The slack keeps an exact power of the largest step from asking for one step more.
    count = math.ceil(math.log(end / start) / math.log(largest) - 1e-9)
    count = max(count, 1)
    lights = [start * (end / start) ** (step / count) for step in range(1, count)] + [end]
    return tuple(RampStep(index * days, ppfd, ppfd / end) for index, ppfd in enumerate(lights))
