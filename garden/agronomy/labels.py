"""From a fertiliser label to milligrams per litre, and back to how much to weigh.

Nutrients are named by their element; nitrogen also by form: "N-NO3", "N-NH4", "N-urea" and "N-other" for
nitrogen whose form the label does not tell. `totals` adds the forms up as "N".
"""

from collections.abc import Mapping
from typing import Literal

from garden.agronomy.errors import AgronomyError, OutOfRange, check_above, check_range
from garden.agronomy.salts import element_in_oxide

Basis = Literal["w/w", "w/v"]
NITROGEN_FORMS = ("N-NO3", "N-NH4", "N-urea", "N-other")
ELEMENTS = ("N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B", "Mo", "Na", "Cl", "Si")
OXIDES: Mapping[str, tuple[str, str]] = {
    "P2O5": ("P", "P2O5"), "K2O": ("K", "K2O"), "CaO": ("Ca", "CaO"), "MgO": ("Mg", "MgO"),
    "SO3": ("S", "SO3"), "SiO2": ("Si", "SiO2"),
}  # fmt: skip
"""What labels call an element, with the element and the formula that the percentage is counted as."""

MG_L_PER_OZ_100_GAL = 74.89
"""One avoirdupois ounce in 100 US gallons, in mg/L (28.3495 g in 378.541 L)."""


def label_content(
    percents: Mapping[str, float], *, liquid: bool, basis: Basis = "w/w", density_g_ml: float | None = None
) -> dict[str, float]:
    """Return what one gram of a solid, or one mL of a liquid, brings, in mg, by nutrient.

    `percents`: label percentages of 0 to 100 by "N", "P2O5", "K2O", "CaO", "MgO", "SO3", "SiO2", an element
    symbol or a form of nitrogen; "N" is the total, and what the given forms leave of it becomes "N-other".
    `basis`: "w/w" (percent by weight; a liquid then needs `density_g_ml`, 0.7 to 2.2) or "w/v" (grams in
    100 mL, liquids only). Raises OutOfRange, and AgronomyError that says which name or number to mend.
    Source: definition of a label percentage; oxides by atomic masses.
    """
    per_percent = 10.0
    if not liquid and basis == "w/v":
        raise AgronomyError("A solid's label is by weight; use w/w, or say that the product is a liquid.")
    if liquid and basis == "w/w":
        if density_g_ml is None:
            raise AgronomyError(
                "density_g_ml is missing; a liquid labelled by weight needs its density (weigh 100 mL)."
            )
        per_percent *= check_range("density_g_ml", density_g_ml, 0.7, 2.2, "g/mL")
    if sum(value for name, value in percents.items() if name not in NITROGEN_FORMS) > 100.001:
        raise AgronomyError("The percentages of the label add up to more than 100; check them.")
    content: dict[str, float] = {}
    for name, percent in _elements(percents).items():
        if percent > 0:
            content[name] = content.get(name, 0.0) + percent * per_percent
    return content


def _elements(percents: Mapping[str, float]) -> dict[str, float]:
    """Percentages as elements, total nitrogen replaced by its forms."""
    found: dict[str, float] = {}
    for name, value in percents.items():
        percent = check_range(name, value, 0, 100, "%")
        if name in OXIDES:
            element, oxide = OXIDES[name]
            found[element] = found.get(element, 0.0) + percent * element_in_oxide(oxide, element)
        elif name in ELEMENTS or name in NITROGEN_FORMS:
            found[name] = found.get(name, 0.0) + percent
        else:
            known = ", ".join((*ELEMENTS, *NITROGEN_FORMS, *OXIDES))
            raise AgronomyError(f"“{name}” on the label is not known; known are {known}.")
    if "N" in found:
        total, told = found.pop("N"), sum(found.get(form, 0.0) for form in NITROGEN_FORMS)
        if told > total + 0.051:  # label figures are rounded to a tenth
            raise OutOfRange("N", total, f"at least {told:g} %, the sum of its forms")
        if total - told > 1e-9:
            found["N-other"] = found.get("N-other", 0.0) + total - told
    return found


def totals(content: Mapping[str, float]) -> dict[str, float]:
    """Return the same amounts by element alone: the forms of nitrogen added up as "N"."""
    found = {name: amount for name, amount in content.items() if name not in NITROGEN_FORMS}
    forms = [content[form] for form in NITROGEN_FORMS if form in content]
    if forms:
        found["N"] = found.get("N", 0.0) + sum(forms)
    return found


def feed_mg_l(content: Mapping[str, float], dose_per_l: float) -> dict[str, float]:
    """Return mg/L by nutrient from a content in mg per mL or g and a dose in mL or g per litre, 0 to 1000.

    Raises OutOfRange. Source: multiplication.
    """
    dose = check_range("dose_per_l", dose_per_l, 0, 1000, "mL or g per litre")
    return {name: amount * dose for name, amount in content.items()}


def product_mg_l(target_mg_l: float, percent: float) -> float:
    """Return mg of product per litre for a target (0 to 1e5 mg/L) of something it holds at `percent` (0–100).

    Raises OutOfRange. Source: definition of a percentage.
    """
    wanted = check_range("target_mg_l", target_mg_l, 0, 1e5, "mg/L")
    return wanted * 100 / check_above("percent", percent, 0, 100, "%")


def oz_per_100_gal(target_mg_l: float, percent: float) -> float:
    """Return the ounces of product per 100 US gallons for a target; ranges and errors as `product_mg_l`.

    Source: unit definition; extension texts round the factor 74.89 to 75.
    """
    return product_mg_l(target_mg_l, percent) / MG_L_PER_OZ_100_GAL


def mg_l_from_oz_per_100_gal(ounces: float, percent: float) -> float:
    """Return mg/L of something a product holds at `percent` (above 0 to 100) from ounces (0 to 1e4) per
    100 US gallons; raises OutOfRange. Source: unit definition."""
    weight = check_range("ounces", ounces, 0, 1e4, "oz per 100 US gal")
    return weight * MG_L_PER_OZ_100_GAL * check_above("percent", percent, 0, 100, "%") / 100


def stock_g_l(target_mg_l: float, percent: float, injector_ratio: float) -> float:
    """Return grams of product per litre of stock for an injector of 1:`injector_ratio` (1 to 2000).

    A ratio of 100 means one part of stock in 100 parts of feed. Other ranges and errors as `product_mg_l`.
    Whether so much dissolves is another question. Source: mass balance.
    """
    ratio = check_range("injector_ratio", injector_ratio, 1, 2000)
    return product_mg_l(target_mg_l, percent) * ratio / 1000
