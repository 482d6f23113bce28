"""Products mixed into a water: every nutrient, the ions, EC, pH, and what may fall out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from garden.agronomy.conductivity import anions_me_l, cations_me_l, solution_ec_ms_cm
from garden.agronomy.errors import AgronomyError, check_above, check_range
from garden.agronomy.labels import Basis, label_content, totals
from garden.agronomy.salts import molar_mass_g, salt_content_mg_g
from garden.agronomy.solution import ION_CHARGES, Solution, equilibrium
from garden.agronomy.water import Water, elements_mg_l, water_solution

Unit = Literal["mL", "g"]
Assumption = Literal[
    "other-nitrogen-closes-charge-then-ammonium-nitrate",
    "urea-does-not-conduct",
    "phosphorus-is-phosphate",
    "sulfur-is-sulfate",
    "chelated-metals-left-out",
    "charge-closed-with-sodium",
    "charge-closed-with-chloride",
]
Level = Literal["likely", "possible", "no"]

# Nutrient -> part of the solution and the element its mg are counted as.
_PARTS: Mapping[str, tuple[str, str]] = {
    "N-NO3": ("NO3", "N"), "N-NH4": ("NH4", "N"), "P": ("P", "P"), "K": ("K", "K"), "Ca": ("Ca", "Ca"),
    "Mg": ("Mg", "Mg"), "S": ("SO4", "S"), "Na": ("Na", "Na"), "Cl": ("Cl", "Cl"), "B": ("B", "B"),
    "Mn": ("Mn", "Mn"), "Zn": ("Zn", "Zn"), "Cu": ("Cu", "Cu"), "F": ("F", "F"),
}  # fmt: skip


@dataclass(frozen=True)
class Product:
    """Something on the shelf: what one mL or one gram brings, in mg, by nutrient.

    `closes`: True for a salt or acid of known formula, whose charges are complete, so that what is left over
    is acid or base; False for a label, whose charges are closed with sodium or chloride instead.
    """

    code: str
    content_mg: Mapping[str, float]
    unit: Unit = "mL"
    closes: bool = False


def salt_product(
    code: str,
    formula: str,
    ions: Mapping[str, float],
    *,
    purity_percent: float = 100.0,
    urea_n: float = 0.0,
) -> Product:
    """Return a pure salt as a product weighed in grams; arguments and errors as salts.salt_content_mg_g."""
    content = salt_content_mg_g(formula, ions, purity_percent=purity_percent, urea_n=urea_n)
    # Molybdate, chelated iron and silicate have no part in the chemistry, so their charges stay open.
    return Product(code, content, "g", closes=not {"Mo", "Fe", "Si"} & content.keys())


def label_product(
    code: str,
    percents: Mapping[str, float],
    *,
    liquid: bool,
    basis: Basis = "w/w",
    density_g_ml: float | None = None,
) -> Product:
    """Return a labelled product, in mL when liquid, else in g; as labels.label_content."""
    content = label_content(percents, liquid=liquid, basis=basis, density_g_ml=density_g_ml)
    return Product(code, content, "mL" if liquid else "g")


def combined_product(code: str, parts: Sequence[tuple[Product, float]]) -> Product:
    """Return several products dosed together (the two halves of a feed) as one, per mL or g of the whole.

    `parts`: products of one unit with their shares, above 0 to 1000. Raises OutOfRange, and AgronomyError
    when there are none or their units differ. Source: mass balance.
    """
    if len({product.unit for product, _ in parts}) != 1:
        raise AgronomyError("Name at least one product, and all of them in mL or all in grams.")
    whole = sum(check_above(f"share of {product.code}", share, 0, 1000) for product, share in parts)
    content: dict[str, float] = {}
    for product, share in parts:
        _add(content, {name: mg * share / whole for name, mg in product.content_mg.items()})
    return Product(code, content, parts[0][0].unit, closes=all(product.closes for product, _ in parts))


@dataclass(frozen=True)
class Risk:
    """A solid that may fall out. `saturation`: log10 of ion product over solubility product."""

    solid: str
    saturation: float
    level: Level


@dataclass(frozen=True)
class Mixture:
    """A ready solution. `nutrients_mg_l` tells nitrogen by form, `elements_mg_l` adds it up as "N".

    `anions_me_l` counts phosphate as H2PO4, which above pH 6.5 is a little less than the charge it carries.
    """

    nutrients_mg_l: Mapping[str, float]
    elements_mg_l: Mapping[str, float]
    parts_mmol_l: Mapping[str, float]
    cations_me_l: float
    anions_me_l: float
    ec_ms_cm: float
    ph: float
    risks: tuple[Risk, ...]
    assumptions: tuple[Assumption, ...]
    solution: Solution = field(repr=False)


def mix_products(water: Water, doses_per_l: Sequence[tuple[Product, float]]) -> Mixture:
    """Return what products at mL or g per litre (0 to 1000) make of a water, at 25 °C in a closed tank.

    Nitrogen whose form is not told first closes the product's charges, the rest counts as ammonium nitrate
    (with urea in it the EC is lower); urea does not conduct; phosphorus is phosphate, sulfur sulfate;
    chelated iron, and molybdenum, are left out of EC and pH: the result lists which of these it used. The
    pH is that of the pure ingredients; trust a meter before it. Raises OutOfRange, ChemistryError.
    Source: mass balance; PHREEQC for EC, pH and saturation.
    """
    nutrients = elements_mg_l(water)
    parts = dict(water_solution(water).parts_mmol_l)
    open_charge = 0.0
    for product, dose in doses_per_l:
        amount = check_range(f"dose of {product.code}", dose, 0, 1000, "mL or g per litre")
        brought = {name: mg * amount for name, mg in product.content_mg.items()}
        _add(nutrients, brought)
        open_charge += _pour(parts, product, brought)
    closing = _close(parts, open_charge)
    solution = equilibrium(parts)
    return Mixture(
        nutrients_mg_l=nutrients,
        elements_mg_l=totals(nutrients),
        parts_mmol_l=parts,
        cations_me_l=cations_me_l(parts),
        anions_me_l=anions_me_l(parts) + solution.carbonate_me_l,
        ec_ms_cm=solution_ec_ms_cm(solution),
        ph=solution.ph,
        risks=precipitation_risks(solution),
        assumptions=(*_assumed(nutrients), *closing),
        solution=solution,
    )


def concentrates_meet(parts: Sequence[tuple[Product, float]]) -> tuple[Risk, ...]:
    """Return what may fall out when concentrates touch undiluted, worst first.

    `parts`: liquid products with their shares by volume (above 0 to 1000), or powders with grams in one litre
    of the stock (above 0 to 1000). So strong a solution is beyond the chemistry's proper range: it shows the
    tendency. Raises OutOfRange, ChemistryError, AgronomyError when liquids and powders are mixed.
    Source: PHREEQC.
    """
    if len({product.unit for product, _ in parts}) > 1:
        raise AgronomyError("Give the concentrates either all in mL or all in grams per litre of stock.")
    liquid = any(product.unit == "mL" for product, _ in parts)
    whole = sum(check_above(f"share of {p.code}", share, 0, 1000) for p, share in parts)
    amounts: dict[str, float] = {}
    for product, share in parts:
        per_l = share / whole * 1000 if liquid else share
        _pour(amounts, product, {name: mg * per_l for name, mg in product.content_mg.items()})
    open_charge = _charge_me_l(amounts)
    _close(amounts, open_charge)
    # Stocks are slightly acid; a held pH keeps the answer steady where nothing buffers.
    return precipitation_risks(equilibrium(amounts, ph=5.5))


def precipitation_risks(solution: Solution) -> tuple[Risk, ...]:
    """Return the solids that may fall out of a solution, worst first; those far from it are left out.

    Likely above +0.3 (twice what dissolves), possible from -0.3 to +0.3. Those edges are common practice, no
    source. Apatite always looks likely and forms over weeks, so it is judged with 6 to spare (judgement).
    """
    found = []
    for solid, saturation in solution.saturation.items():
        judged = saturation - 6 if solid == "apatite" else saturation
        level: Level = "likely" if judged > 0.3 else "possible" if judged >= -0.3 else "no"
        if level != "no":
            found.append(Risk(solid, saturation, level))
    return tuple(sorted(found, key=lambda risk: -risk.saturation))


def nutrient_parts_mmol_l(nutrients_mg_l: Mapping[str, float]) -> dict[str, float]:
    """Return nutrients in mg/L as parts of a solution in mmol/L; urea, iron and molybdenum have no part."""
    parts: dict[str, float] = {}
    for name, mg in nutrients_mg_l.items():
        if name in _PARTS and mg > 0:
            part, element = _PARTS[name]
            parts[part] = parts.get(part, 0.0) + mg / molar_mass_g(element)
    return parts


def _pour(parts: dict[str, float], product: Product, brought: Mapping[str, float]) -> float:
    """Add a product's ions; return the charge in me/L that its label leaves open."""
    ions = nutrient_parts_mmol_l(brought)
    rest = sum(brought.get(name, 0.0) for name in ("N-other", "N")) / molar_mass_g("N")
    charge = _charge_me_l(ions)
    closing = min(rest, abs(charge))
    split = (rest - closing) / 2
    _add(ions, {"NO3": split + (closing if charge > 0 else 0), "NH4": split + (closing if charge < 0 else 0)})
    _add(parts, ions)
    return 0.0 if product.closes else _charge_me_l(ions)


def _add(into: dict[str, float], more: Mapping[str, float]) -> None:
    for name, amount in more.items():
        into[name] = into.get(name, 0.0) + amount


def _charge_me_l(parts: Mapping[str, float]) -> float:
    return sum(
        amount * ION_CHARGES.get("H2PO4" if part == "P" else part, 0) for part, amount in parts.items()
    )


def _close(parts: dict[str, float], open_charge: float) -> tuple[Assumption, ...]:
    if abs(open_charge) < 1e-6:
        return ()
    _add(parts, {"Cl": open_charge} if open_charge > 0 else {"Na": -open_charge})
    return ("charge-closed-with-chloride",) if open_charge > 0 else ("charge-closed-with-sodium",)


def _assumed(nutrients: Mapping[str, float]) -> list[Assumption]:
    checks: tuple[tuple[tuple[str, ...], Assumption], ...] = (
        (("N-other", "N"), "other-nitrogen-closes-charge-then-ammonium-nitrate"),
        (("N-urea",), "urea-does-not-conduct"),
        (("P",), "phosphorus-is-phosphate"),
        (("S",), "sulfur-is-sulfate"),
        (("Fe", "Mo"), "chelated-metals-left-out"),
    )
    return [code for names, code in checks if any(nutrients.get(name, 0.0) > 0 for name in names)]
