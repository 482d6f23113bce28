"""Water analysis: ions, whether they add up, hardness and alkalinity, blending, published limits."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol

from garden.agronomy.errors import AgronomyError, OutOfRange, check_range
from garden.agronomy.feed import MG_CACO3_PER_ME
from garden.agronomy.salts import element_in_oxide, molar_mass_g
from garden.agronomy.solution import ION_CHARGES, ChemistryError, Part, Solution, equilibrium

MG_HCO3_PER_ME = 61.017
MG_CACO3_PER_GERMAN_DEGREE = 17.85
MG_CACO3_PER_FRENCH_DEGREE = 10.0

ANALYTES: Mapping[str, tuple[str, str]] = {
    "Ca": ("Ca", "Ca"), "Mg": ("Mg", "Mg"), "Na": ("Na", "Na"), "K": ("K", "K"), "NH4": ("NH4", "NH4"),
    "N-NH4": ("NH4", "N"), "NO3": ("NO3", "NO3"), "N-NO3": ("NO3", "N"), "Cl": ("Cl", "Cl"),
    "SO4": ("SO4", "SO4"), "S": ("SO4", "S"), "F": ("F", "F"), "PO4": ("P", "PO4"), "P": ("P", "P"),
    "B": ("B", "B"), "Mn": ("Mn", "Mn"), "Zn": ("Zn", "Zn"), "Cu": ("Cu", "Cu"),
}  # fmt: skip
"""What an analysis may list in mg/L: our part of the solution, and the formula the mg are counted as."""

_CARBONATES = ("HCO3", "CO3")
_OTHERS = ("Fe", "Mo", "Si")  # kept as elements, without a part in the chemistry
_ELEMENT: Mapping[str, str] = {"NH4": "N-NH4", "NO3": "N-NO3", "SO4": "S"}


@dataclass(frozen=True)
class Water:
    """A water: amounts by part in mmol/L, alkalinity in mg/L CaCO3, pH, and elements without a part, mg/L."""

    parts_mmol_l: Mapping[str, float] = field(default_factory=dict)
    alkalinity_mg_l: float = 0.0
    ph: float = 7.0
    others_mg_l: Mapping[str, float] = field(default_factory=dict)

    @property
    def alkalinity_me_l(self) -> float:
        """Alkalinity in me/L."""
        return self.alkalinity_mg_l / MG_CACO3_PER_ME


Verdict = Literal["adds-up", "doubtful", "does-not-add-up", "no-ions"]


@dataclass(frozen=True)
class ChargeBalance:
    """Sums of ions in me/L, their difference in percent of the total, and what is allowed (in percent)."""

    cations_me_l: float
    anions_me_l: float
    difference_percent: float
    allowed_percent: float
    verdict: Verdict


class Limit(Protocol):
    """A published limit: below `fine` no restriction, above `severe` severe; either may be missing."""

    @property
    def quantity(self) -> str: ...
    @property
    def fine(self) -> float | None: ...
    @property
    def severe(self) -> float | None: ...


Standing = Literal["fine", "some-care", "severe"]


@dataclass(frozen=True)
class LimitStanding:
    """How a value stands to one published limit."""

    limit: Limit
    value: float
    standing: Standing


def water_from_analysis(
    values_mg_l: Mapping[str, float], *, ph: float, alkalinity_mg_l: float | None = None
) -> Water:
    """Return a water from an analysis.

    `values_mg_l`: 0 to 20000 mg/L by the names of ANALYTES, "HCO3", "CO3", "Fe", "Mo" or "Si"; `ph` 4 to 10;
    `alkalinity_mg_l` 0 to 2000 mg/L CaCO3, or None to take it from HCO3 and CO3 (without those it is 0).
    Raises OutOfRange, and AgronomyError for an unknown name, or when alkalinity and bicarbonate are both
    given and differ by more than a tenth. Source: definitions.
    """
    acidity = check_range("ph", ph, 4, 10)
    parts: dict[str, float] = {}
    others: dict[str, float] = {}
    for name, value in values_mg_l.items():
        amount = check_range(name, value, 0, 20_000, "mg/L")
        if name in ANALYTES:
            part, formula = ANALYTES[name]
            parts[part] = parts.get(part, 0.0) + amount / molar_mass_g(formula)
        elif name in _OTHERS:
            others[name] = amount
        elif name not in _CARBONATES:
            known = ", ".join((*ANALYTES, *_CARBONATES, *_OTHERS))
            raise AgronomyError(f"“{name}” in the water analysis is not known; known are {known}.")
    told = alkalinity_from_bicarbonate_mg_l(values_mg_l.get("HCO3", 0.0), values_mg_l.get("CO3", 0.0))
    return Water(parts, _alkalinity(told, alkalinity_mg_l), acidity, others)


def _alkalinity(from_ions: float, given: float | None) -> float:
    if given is None:
        return from_ions
    alkalinity = check_range("alkalinity_mg_l", given, 0, 2000, "mg/L CaCO3")
    if from_ions and abs(from_ions - alkalinity) > 0.1 * max(from_ions, alkalinity):
        raise OutOfRange(
            "alkalinity_mg_l", alkalinity, f"about {from_ions:.0f} mg/L CaCO3, as HCO3 and CO3 say"
        )
    return alkalinity


def elements_mg_l(water: Water) -> dict[str, float]:
    """Return the nutrients and salts of a water in mg/L, nitrogen by form ("N-NO3", "N-NH4")."""
    found = dict(water.others_mg_l)
    for part, amount in water.parts_mmol_l.items():
        name = _ELEMENT.get(part, part)
        found[name] = found.get(name, 0.0) + amount * molar_mass_g(name.split("-")[0])
    return found


def ions_me_l(water: Water) -> dict[str, float]:
    """Return the ions of a water in me/L, alkalinity as "HCO3" and phosphate as "H2PO4".

    What carries no charge at working pH (boron) is left out. Source: definition of an equivalent.
    """
    named = {"H2PO4" if part == "P" else part: amount for part, amount in water.parts_mmol_l.items()}
    found = {ion: amount * abs(ION_CHARGES[ion]) for ion, amount in named.items() if ion in ION_CHARGES}
    return found | ({"HCO3": water.alkalinity_me_l} if water.alkalinity_me_l else {})


def charge_balance(water: Water) -> ChargeBalance:
    """Return whether the ions of an analysis add up, as laboratories check it.

    Allowed: 0.2 me/L while anions are at most 3 me/L, 2 % up to 10 me/L, 5 % above; up to 10 % is called
    doubtful (that step is common practice). A large difference means an ion was not measured, or misread.
    Source: the criteria of Standard Methods for the Examination of Water, method 1030 E, from memory.
    """
    ions = ions_me_l(water)
    cations = sum(amount for ion, amount in ions.items() if ION_CHARGES[ion] > 0)
    anions = sum(amount for ion, amount in ions.items() if ION_CHARGES[ion] < 0)
    total = cations + anions
    if total <= 0:
        return ChargeBalance(0.0, 0.0, 0.0, 5.0, "no-ions")
    percent = 100 * (cations - anions) / total
    allowed = 100 * 0.2 / total if anions <= 3 else 2.0 if anions <= 10 else 5.0
    off = abs(percent)
    verdict: Verdict = (
        "adds-up" if off <= allowed else "doubtful" if off <= max(10.0, allowed) else "does-not-add-up"
    )
    return ChargeBalance(cations, anions, percent, allowed, verdict)


def hardness_mg_l(calcium_mg_l: float, magnesium_mg_l: float) -> float:
    """Return total hardness in mg/L CaCO3 from calcium and magnesium, 0 to 5000 mg/L each.

    Raises OutOfRange. Source: definition, 2.497 × Ca + 4.118 × Mg.
    """
    calcium = check_range("calcium_mg_l", calcium_mg_l, 0, 5000, "mg/L")
    magnesium = check_range("magnesium_mg_l", magnesium_mg_l, 0, 5000, "mg/L")
    lime = molar_mass_g("CaCO3")
    return lime * (calcium / molar_mass_g("Ca") + magnesium / molar_mass_g("Mg"))


def bicarbonate_mg_l(alkalinity_mg_l: float) -> float:
    """Return the bicarbonate, in mg/L HCO3, that an alkalinity of 0 to 2000 mg/L CaCO3 stands for.

    Raises OutOfRange. Right below pH 8.3, where bicarbonate carries the alkalinity. Source: definition.
    """
    value = check_range("alkalinity_mg_l", alkalinity_mg_l, 0, 2000, "mg/L CaCO3")
    return value / MG_CACO3_PER_ME * MG_HCO3_PER_ME


def alkalinity_from_bicarbonate_mg_l(bicarbonate_mg_l: float, carbonate_mg_l: float = 0.0) -> float:
    """Return alkalinity in mg/L CaCO3 from HCO3 and CO3, 0 to 2500 mg/L each; raises OutOfRange."""
    bicarbonate = check_range("HCO3", bicarbonate_mg_l, 0, 2500, "mg/L")
    carbonate = check_range("CO3", carbonate_mg_l, 0, 2500, "mg/L")
    return MG_CACO3_PER_ME * (bicarbonate / MG_HCO3_PER_ME + 2 * carbonate / molar_mass_g("CO3"))


def german_degrees(hardness_mg_l: float) -> float:
    """Return hardness or alkalinity of 0 to 5000 mg/L CaCO3 in German degrees (17.85 mg/L each, memory)."""
    return check_range("hardness_mg_l", hardness_mg_l, 0, 5000, "mg/L CaCO3") / MG_CACO3_PER_GERMAN_DEGREE


def french_degrees(hardness_mg_l: float) -> float:
    """Return hardness or alkalinity of 0 to 5000 mg/L CaCO3 in French degrees (10 mg/L each, memory)."""
    return check_range("hardness_mg_l", hardness_mg_l, 0, 5000, "mg/L CaCO3") / MG_CACO3_PER_FRENCH_DEGREE


def nitrate_nitrogen_mg_l(nitrate_mg_l: float) -> float:
    """Return the nitrogen, mg/L N, in nitrate of 0 to 20000 mg/L NO3; raises OutOfRange."""
    return check_range("nitrate_mg_l", nitrate_mg_l, 0, 20_000, "mg/L") * element_in_oxide("NO3", "N")


def blend(first: Water, second: Water, second_share: float) -> Water:
    """Return two waters mixed, `second_share` (0 to 1) of the volume being the second.

    Ions and alkalinity mix in proportion. The pH does not: it is that of the mixed carbonates in a closed
    vessel, by equilibrium. Raises OutOfRange, ChemistryError. Source: mass balance; PHREEQC for the pH.
    """
    two = check_range("second_share", second_share, 0, 1)
    if two in (0.0, 1.0):
        return second if two else first
    parts = _weighted(first.parts_mmol_l, second.parts_mmol_l, two)
    others = _weighted(first.others_mg_l, second.others_mg_l, two)
    alkalinity = (1 - two) * first.alkalinity_mg_l + two * second.alkalinity_mg_l
    one_state, two_state = water_solution(first).parts_mmol_l, water_solution(second).parts_mmol_l
    return Water(parts, alkalinity, equilibrium(_weighted(one_state, two_state, two)).ph, others)


def share_of_pure_water(value: float, target: float, pure: float = 0.0) -> float:
    """Return the share, 0 to 1, of reverse-osmosis water that brings a concentration down to a target.

    0 <= `pure` < `target` <= `value`, in one unit; raises OutOfRange. Source: mass balance.
    """
    low = check_range("pure", pure, 0, 1e6)
    now = check_range("value", value, low, 1e6)
    if not low < target <= now:
        raise OutOfRange("target", target, f"above {low:g} (the pure water) and up to {now:g} (this water)")
    return (now - target) / (now - low)


def _weighted(first: Mapping[str, float], second: Mapping[str, float], two: float) -> dict[str, float]:
    return {
        name: (1 - two) * first.get(name, 0.0) + two * second.get(name, 0.0) for name in {**first, **second}
    }


def water_solution(water: Water) -> Solution:
    """Return the chemical state of a water at its pH and alkalinity, 25 °C.

    Charges that the analysis leaves open are taken for sodium or chloride, whichever is missing: that
    changes the EC a little and the acid demand hardly. A water without alkalinity, whose pH means nothing,
    is given the pH that its ions make. Raises ChemistryError. Source: PHREEQC.
    """
    balance = charge_balance(water)
    order: tuple[Part, Part] = ("Na", "Cl") if balance.cations_me_l <= balance.anions_me_l else ("Cl", "Na")
    try:
        return _balanced(water, order[0])
    except ChemistryError:
        return _balanced(water, order[1])


def _balanced(water: Water, part: Part) -> Solution:
    # With less alkalinity than the hydroxide of its pH, a water has nothing to hold that pH with.
    if water.alkalinity_me_l <= 1.2e3 * 10 ** (water.ph - 14):
        neutral = equilibrium(water.parts_mmol_l, ph=7.0, balance=part)
        return equilibrium(neutral.parts_mmol_l)
    return equilibrium(water.parts_mmol_l, ph=water.ph, alkalinity_me_l=water.alkalinity_me_l, balance=part)


def against_limits(values: Mapping[str, float], limits: Iterable[Limit]) -> tuple[LimitStanding, ...]:
    """Return how measured values stand to each published limit on them; sources disagree and all are shown.

    `values` by quantity as the limits name it, 0 or more, in the unit of the limit; raises OutOfRange.
    """
    found = []
    for limit in limits:
        if limit.quantity not in values:
            continue
        value = check_range(limit.quantity, values[limit.quantity], 0, 1e6)
        severe = limit.severe is not None and value > limit.severe
        some = limit.fine is not None and value > limit.fine
        found.append(LimitStanding(limit, value, "severe" if severe else "some-care" if some else "fine"))
    return tuple(found)
