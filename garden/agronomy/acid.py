"""How much acid brings water to a pH, what it adds, and what the pH does once the tank has aired.

Closed means that no carbon dioxide has left yet, as right after dosing; aired means in balance with the
atmosphere, as a tank with an air stone is after some hours. The pH climbs back while it airs, so it is
measured again then. Strong acids burn and some fume: see the caution codes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.errors import AgronomyError, OutOfRange, check_above, check_range
from garden.agronomy.salts import molar_mass_g
from garden.agronomy.solution import Part, Solution, equilibrium
from garden.agronomy.water import Water, water_solution

OUTDOOR_CO2_PPM = 420.0
AcidCode = Literal["sulfuric", "phosphoric", "nitric", "citric", "hydrochloric"]


@dataclass(frozen=True)
class Acid:
    """A kind of acid. `equivalents`: those it gives at pH 5.5 to 6, by which normality is counted here."""

    code: AcidCode
    formula: str
    equivalents: int
    part: Part
    element: str | None
    element_atoms: int
    cautions: tuple[str, ...]


_ALWAYS = ("acid-into-water", "eyes-and-gloves", "never-with-bleach", "small-steps", "measure-after-airing",
    "label-and-local-rules")  # fmt: skip
ACIDS: Mapping[str, Acid] = {
    acid.code: acid
    for acid in (
        Acid("sulfuric", "H2SO4", 2, "SO4", "S", 1, (*_ALWAYS, "heats-when-diluted")),
        Acid("phosphoric", "H3PO4", 1, "P", "P", 1, (*_ALWAYS, "phosphorus-limit")),
        Acid("nitric", "HNO3", 1, "NO3", "N", 1, (*_ALWAYS, "fumes", "oxidiser")),
        Acid("citric", "C6H8O7", 3, "citrate", None, 0, (*_ALWAYS, "microbes-eat-it")),
        Acid("hydrochloric", "HCl", 1, "Cl", "Cl", 1, (*_ALWAYS, "fumes", "chloride-limit")),
    )
}


@dataclass(frozen=True)
class Strength:
    """An acid as it stands on the shelf; `density_g_ml` is None for a powder, dosed in grams."""

    acid: Acid
    percent: float
    density_g_ml: float | None

    @property
    def mol_per_kg(self) -> float:
        """Moles of acid in one kilogram of product."""
        return self.percent * 10 / molar_mass_g(self.acid.formula)

    @property
    def mol_per_l(self) -> float:
        """Moles in one litre; raises AgronomyError for a powder."""
        if self.density_g_ml is None:
            raise AgronomyError("density_g_ml is missing; without it the acid can only be weighed.")
        return self.mol_per_kg * self.density_g_ml

    @property
    def normality(self) -> float:
        """Equivalents in one litre: sulfuric 2, citric 3, the others 1 for each mole."""
        return self.mol_per_l * self.acid.equivalents


@dataclass(frozen=True)
class AcidDose:
    """A dose: per litre of water in mmol, by volume (None for a powder) and by weight of the product.

    `equivalents_me_l`: as normality counts them. `adds_mg_l`: by element. `closed_ph`, `aired_ph`: after
    dosing and after airing. `alkalinity_left_me_l`: bicarbonate and carbonate that remain in the closed tank.
    """

    mmol_l: float
    equivalents_me_l: float
    ml_per_10_l: float | None
    ml_per_m3: float | None
    g_per_m3: float
    adds_mg_l: Mapping[str, float]
    closed_ph: float
    aired_ph: float
    alkalinity_left_me_l: float
    cautions: tuple[str, ...]


def acid_strength(acid: str, percent: float, density_g_ml: float | None = None) -> Strength:
    """Return an acid of a stated strength.

    `acid`: a code of ACIDS; `percent`: above 0 to 100 by weight; `density_g_ml`: 0.95 to 2 as the label says,
    None for a powder or when it is weighed out. Raises OutOfRange, AgronomyError for an unknown acid.
    """
    if acid not in ACIDS:
        raise AgronomyError(f"The acid “{acid}” is not known; known are {', '.join(ACIDS)}.")
    if density_g_ml is not None:
        check_range("density_g_ml", density_g_ml, 0.95, 2, "g/mL")
    return Strength(ACIDS[acid], check_above("percent", percent, 0, 100, "% by weight"), density_g_ml)


def strength_from_normality(acid: str, normality: float, density_g_ml: float = 1.0) -> Strength:
    """Return an acid from the normality on its label, above 0 to 40 equivalents per litre.

    Counted as 2 equivalents for each mole of sulfuric, 3 of citric, 1 of the others (phosphoric gives about
    one at pH 5.5 to 6; a label that counts three must be divided by three first). `density_g_ml` 0.95 to 2
    matters only for doses by weight. Raises OutOfRange, AgronomyError.
    """
    kind = acid_strength(acid, 100).acid
    moles = check_above("normality", normality, 0, 40, "equivalents per litre") / kind.equivalents
    density = check_range("density_g_ml", density_g_ml, 0.95, 2, "g/mL")
    return acid_strength(acid, moles * molar_mass_g(kind.formula) / (10 * density), density)


def acid_ml_per_m3(equivalents_me_l: float, normality: float) -> float:
    """Return mL of acid for 1000 L of water, from 0 to 100 me/L and a normality above 0 to 40.

    Raises OutOfRange. Source: definition of normality.
    """
    wanted = check_range("equivalents_me_l", equivalents_me_l, 0, 100, "me/L")
    return wanted * 1000 / check_above("normality", normality, 0, 40, "equivalents per litre")


def acid_added_me_l(ml_per_m3: float, normality: float) -> float:
    """Return the me/L that a volume of acid brings, 0 to 1e6 mL in 1000 L; the inverse of acid_ml_per_m3."""
    volume = check_range("ml_per_m3", ml_per_m3, 0, 1e6, "mL")
    return volume * check_above("normality", normality, 0, 40, "equivalents per litre") / 1000


def acid_dose(water: Water, strength: Strength, target_ph: float) -> AcidDose:
    """Return the dose that brings a water to `target_ph` in a closed tank, by chemical equilibrium.

    `target_ph` 4 to 8.5, not above the water's own pH. Raises OutOfRange, ChemistryError.
    Source: PHREEQC, 25 °C.
    """
    start = water_solution(water)
    return dose_to_ph(start, strength, target_ph)


def dose_to_ph(start: Solution, strength: Strength, target_ph: float) -> AcidDose:
    """Return the dose for any solution, as `acid_dose` for a water; same range, errors and source."""
    end, added = acidified(start, strength, target_ph)
    return _dose(strength, added, end)


def acidified(start: Solution, strength: Strength, target_ph: float) -> tuple[Solution, float]:
    """Return a solution after acid has brought it to `target_ph`, and the acid in mmol/L; as `dose_to_ph`."""
    target = check_range("target_ph", target_ph, 4, 8.5)
    if target > start.ph + 1e-6:
        raise OutOfRange("target_ph", target, f"up to {start.ph:.2f}, the present pH; acid cannot raise it")
    part = strength.acid.part
    end = equilibrium(start.parts_mmol_l, ph=target, balance=part)
    return end, max(end.parts_mmol_l.get(part, 0.0) - start.parts_mmol_l.get(part, 0.0), 0.0)


def after_acid(water: Water, strength: Strength, mmol_l: float) -> AcidDose:
    """Return what a given amount of acid, 0 to 100 mmol/L, does to a water.

    Raises OutOfRange, ChemistryError. Source: PHREEQC, 25 °C.
    """
    amount = check_range("mmol_l", mmol_l, 0, 100, "mmol/L")
    start = water_solution(water)
    part = strength.acid.part
    parts = dict(start.parts_mmol_l)
    parts[part] = parts.get(part, 0.0) + amount
    return _dose(strength, amount, equilibrium(parts))


def _dose(strength: Strength, mmol_l: float, end: Solution) -> AcidDose:
    acid = strength.acid
    aired = equilibrium(
        {name: amount for name, amount in end.parts_mmol_l.items() if name != "C"}, co2_ppm=OUTDOOR_CO2_PPM
    )
    grams = mmol_l / strength.mol_per_kg * 1000
    volume = None if strength.density_g_ml is None else grams / strength.density_g_ml
    adds = {}
    if acid.element is not None:
        adds[acid.element] = mmol_l * acid.element_atoms * molar_mass_g(acid.element)
    return AcidDose(
        mmol_l=mmol_l,
        equivalents_me_l=mmol_l * acid.equivalents,
        ml_per_10_l=None if volume is None else volume / 100,
        ml_per_m3=volume,
        g_per_m3=grams,
        adds_mg_l=adds,
        closed_ph=end.ph,
        aired_ph=aired.ph,
        alkalinity_left_me_l=end.carbonate_me_l,
        cautions=acid.cautions,
    )
