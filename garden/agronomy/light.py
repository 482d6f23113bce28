"""Light for plants: daily light integral, lamps, distance, and what a lux meter can tell."""

from garden.agronomy.errors import AgronomyError, check_above, check_range

MAX_PPFD_UMOL_M2_S = 3000
_MOL_PER_UMOL_HOUR = 3600e-6


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
