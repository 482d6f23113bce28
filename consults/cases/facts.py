"""What is known about a case in numbers: measured, told by the garden's description, or computed.

Pure: no Django, no database, no clock.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from consults.cases.casefile import CaseFile, LampPart
from consults.ruleset.conditions import ONSET
from garden.agronomy.air import vpd_air_kpa
from garden.agronomy.errors import OutOfRange
from garden.agronomy.light import dli_mol_m2_d, lamp_photon_flux_umol_s, mean_ppfd_umol_m2_s
from garden.reference.schema import Band, Crop, Medium, Reference

LIGHT_REACHING_LEAVES = 0.8  # share of the lamps' output; common practice, no source

Origin = Literal["measured", "garden", "computed", "estimated"]


@dataclass(frozen=True)
class Known:
    """One number: its value in the reading's stored unit and where it came from."""

    value: float
    origin: Origin


@dataclass(frozen=True)
class Facts:
    """A case with its numbers. `known` maps reading codes to values, derived readings included."""

    case: CaseFile
    crop: Crop
    reference: Reference
    known: Mapping[str, Known]
    area_m2: float | None

    def value(self, code: str) -> float | None:
        """The value of a reading in its stored unit, or None when it is not known."""
        found = self.known.get(code)
        return found.value if found else None

    def band(self, code: str) -> Band | None:
        """The crop's band for a reading at this stage, or None when it has none."""
        return self.crop.band(code, self.case.planting.stage)

    def cite(self, source: str) -> str:
        """A source id of the reference data as people read it; any other text as it is."""
        found = self.reference.sources.get(source)
        if found is None:
            return source
        year = f" ({found.year})" if found.year else ""
        return f"{found.authors}{year}: {found.title}"

    @property
    def medium(self) -> Medium | None:
        code = self.case.planting.medium
        return self.reference.media[code] if code else None

    @property
    def recirculating(self) -> bool:
        code = self.case.planting.system
        return bool(code and self.reference.systems[code].recirculating)

    @property
    def values(self) -> dict[str, float]:
        """All known values by reading code."""
        return {code: known.value for code, known in self.known.items()}

    @property
    def judged(self) -> dict[str, float]:
        """What conditions compare: all known values, and the days since onset when the grower told them."""
        onset = self.case.onset_days
        return self.values if onset is None else {**self.values, ONSET: float(onset)}


def gather(case: CaseFile, reference: Reference) -> Facts:
    """Return the case's facts: what was measured, and what follows from it and from the garden."""
    known = {code: Known(value, "measured") for code, value in case.readings.items()}
    area = _area_m2(case)
    _add_from_garden(known, case, reference, area)
    _add_computed(known)
    return Facts(
        case=case,
        crop=reference.crops[case.profile_code(reference)],
        reference=reference,
        known=known,
        area_m2=area,
    )


def lamps_photon_flux_umol_s(lamps: tuple[LampPart, ...], reference: Reference) -> float | None:
    """Photon output of all lamps together, µmol/s; None when there is none or one cannot be told."""
    total = 0.0
    for lamp in lamps:
        if lamp.photon_flux_umol_s is not None:
            output = lamp.photon_flux_umol_s
        elif lamp.watts is not None:
            efficacy = lamp.efficacy_umol_j or reference.lamps[lamp.type].efficacy_umol_j
            output = lamp_photon_flux_umol_s(lamp.watts, efficacy)
        else:
            return None
        total += output * lamp.count
    return total or None


def _area_m2(case: CaseFile) -> float | None:
    space = case.garden.space
    if space is None or space.length_m is None or space.width_m is None:
        return None
    return space.length_m * space.width_m


def _add_from_garden(
    known: dict[str, Known], case: CaseFile, reference: Reference, area: float | None
) -> None:
    water = case.garden.water
    if water is not None:
        for code, value in (
            ("water_alkalinity_mg_l", water.alkalinity_mg_l),
            ("water_ec_ms_cm", water.ec_ms_cm),
            ("water_sodium_mg_l", water.sodium_mg_l),
            ("water_chloride_mg_l", water.chloride_mg_l),
        ):
            if value is not None and code in reference.readings:
                known.setdefault(code, Known(value, "garden"))
    hours = [lamp.hours for lamp in case.garden.lamps if lamp.hours is not None]
    if hours:
        known.setdefault("photoperiod_h", Known(max(hours), "garden"))
    ppfd = _estimated_ppfd(case, reference, area)
    if ppfd is not None:
        known.setdefault("ppfd_umol_m2_s", Known(ppfd, "estimated"))


def _estimated_ppfd(case: CaseFile, reference: Reference, area: float | None) -> float | None:
    """The light that the lamps give on the space; None when unknown or brighter than light can be."""
    output = lamps_photon_flux_umol_s(case.garden.lamps, reference)
    if output is None or not area:
        return None
    try:
        ppfd = mean_ppfd_umol_m2_s(output, area, LIGHT_REACHING_LEAVES)
    except OutOfRange:
        return None
    return ppfd if ppfd <= reference.readings["ppfd_umol_m2_s"].max else None


def _add_computed(known: dict[str, Known]) -> None:
    def together(*codes: str) -> list[float] | None:
        return [known[code].value for code in codes] if all(code in known for code in codes) else None

    def origin(*codes: str) -> Origin:
        return "estimated" if any(known[code].origin == "estimated" for code in codes) else "computed"

    if (air := together("air_temp_c", "rh_percent")) is not None:
        known["vpd_kpa"] = Known(vpd_air_kpa(*air), origin("air_temp_c", "rh_percent"))
    if (light := together("ppfd_umol_m2_s", "photoperiod_h")) is not None:
        known["dli_mol_m2_d"] = Known(dli_mol_m2_d(*light), origin("ppfd_umol_m2_s", "photoperiod_h"))
    if (salts := together("runoff_ec_ms_cm", "feed_ec_ms_cm")) is not None:
        known["ec_rise_ms_cm"] = Known(salts[0] - salts[1], "computed")
