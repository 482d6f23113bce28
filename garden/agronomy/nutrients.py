"""Nutrients against one another and against pH: ratios, antagonism, availability.

Ranges of ratios are common practice without a source unless a source is named; they start a question, they
do not settle one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.errors import OutOfRange, check_range
from garden.agronomy.labels import NITROGEN_FORMS, totals
from garden.agronomy.salts import molar_mass_g
from garden.agronomy.solution import ION_CHARGES

NO_SOURCE = "common practice, no source"
RatioVerdict = Literal["below", "inside", "above"]
Availability = Literal["good", "reduced", "poor"]


@dataclass(frozen=True)
class RatioRange:
    """A ratio of two amounts by weight, where it usually lies, and what too much of the upper one hinders."""

    code: str
    upper: tuple[str, ...]
    lower: tuple[str, ...]
    low: float
    high: float
    hinders_when_above: tuple[str, ...]
    hinders_when_below: tuple[str, ...]
    source: str = NO_SOURCE


RATIOS: tuple[RatioRange, ...] = (
    RatioRange("n-to-k", ("N",), ("K",), 0.5, 1.2, (), ()),
    RatioRange("k-to-ca", ("K",), ("Ca",), 0.8, 2.0, ("Ca",), ("K",)),
    RatioRange("k-to-mg", ("K",), ("Mg",), 3.0, 8.0, ("Mg",), ("K",)),
    RatioRange("ca-to-mg", ("Ca",), ("Mg",), 2.0, 5.0, ("Mg",), ("Ca",)),
    RatioRange("n-to-p", ("N",), ("P",), 3.0, 8.0, (), ("Fe", "Zn")),
    RatioRange("fe-to-mn", ("Fe",), ("Mn",), 1.5, 6.0, ("Mn",), ("Fe",)),
    RatioRange("na-to-k", ("Na",), ("K",), 0.0, 0.25, ("K", "Ca"), ()),
    # Ammonium share of nitrogen: up to about 15 % in solution culture, more in media (common practice).
    RatioRange("ammonium-share", ("N-NH4",), ("N",), 0.0, 0.15, ("Ca", "Mg", "K"), ()),
)


@dataclass(frozen=True)
class RatioFinding:
    """A ratio of a feed, how it lies to its usual range, and which nutrients it may hinder."""

    ratio: RatioRange
    value: float
    verdict: RatioVerdict
    hinders: tuple[str, ...]


@dataclass(frozen=True)
class IonShares:
    """Shares of K, Ca, Mg among these three, and of NO3, H2PO4, SO4 among those three, by equivalents."""

    cations: Mapping[str, float]
    anions: Mapping[str, float]


STEINER_SHARES = IonShares({"K": 0.35, "Ca": 0.45, "Mg": 0.20}, {"NO3": 0.60, "H2PO4": 0.05, "SO4": 0.35})
"""The proportions of Steiner's universal solution (Plant and Soil 15:134-154, 1961), from memory."""


def ratio_findings(nutrients_mg_l: Mapping[str, float]) -> tuple[RatioFinding, ...]:
    """Return every ratio of RATIOS that a feed allows, in their order.

    `nutrients_mg_l`: 0 to 1e5 mg/L by element or form of nitrogen; a ratio whose lower part is absent is left
    out, and the ammonium share too when some nitrogen has no form. Raises OutOfRange.
    """
    for name, amount in nutrients_mg_l.items():
        check_range(name, amount, 0, 1e5, "mg/L")
    amounts = {**nutrients_mg_l, **totals(nutrients_mg_l)}
    found = []
    for ratio in RATIOS:
        below = sum(amounts.get(name, 0.0) for name in ratio.lower)
        formless = nutrients_mg_l.get("N-other", 0.0) > 0 or "N" in nutrients_mg_l
        if below <= 0 or (ratio.code == "ammonium-share" and formless):
            continue
        value = sum(amounts.get(name, 0.0) for name in ratio.upper) / below
        verdict: RatioVerdict = "below" if value < ratio.low else "above" if value > ratio.high else "inside"
        hinders = {"above": ratio.hinders_when_above, "below": ratio.hinders_when_below}.get(verdict, ())
        found.append(RatioFinding(ratio, value, verdict, hinders))
    return tuple(found)


def ammonium_share(nutrients_mg_l: Mapping[str, float]) -> float:
    """Return the share, 0 to 1, of ammonium in the nitrogen of a feed, mg/L by form; 0 without nitrogen.

    Raises OutOfRange, also when nitrogen without a form ("N", "N-other") is among it.
    """
    for name in ("N", "N-other"):
        if nutrients_mg_l.get(name, 0.0) > 0:
            raise OutOfRange(name, nutrients_mg_l[name], "0; the form of all nitrogen must be known")
    forms = {
        form: check_range(form, nutrients_mg_l.get(form, 0.0), 0, 1e5, "mg/L") for form in NITROGEN_FORMS
    }
    total = sum(forms.values())
    return forms["N-NH4"] / total if total else 0.0


def ion_shares(nutrients_mg_l: Mapping[str, float]) -> IonShares:
    """Return the shares by equivalents that growers compare with Steiner's, 0 to 1; zeros where nothing is.

    `nutrients_mg_l`: 0 to 1e5 mg/L; nitrate as "N-NO3". Raises OutOfRange. Source: definition; the comparison
    after Steiner 1961 (from memory).
    """
    return IonShares(
        _shares(nutrients_mg_l, {"K": "K", "Ca": "Ca", "Mg": "Mg"}),
        _shares(nutrients_mg_l, {"NO3": "N-NO3", "H2PO4": "P", "SO4": "S"}),
    )


def _shares(nutrients_mg_l: Mapping[str, float], names: Mapping[str, str]) -> dict[str, float]:
    equivalents = {}
    for ion, name in names.items():
        amount = check_range(name, nutrients_mg_l.get(name, 0.0), 0, 1e5, "mg/L")
        equivalents[ion] = amount / molar_mass_g(name.split("-")[0]) * abs(ION_CHARGES[ion])
    total = sum(equivalents.values())
    return {ion: amount / total if total else 0.0 for ion, amount in equivalents.items()}


def availability(ph: float, good: tuple[float, float], fair: tuple[float, float]) -> Availability:
    """Return how well a nutrient is available at a root-zone pH of 3 to 10.

    `good` and `fair`: pH from-to, `good` inside `fair`; outside `fair` is poor. Raises OutOfRange.
    The bands are qualitative, see the reference data of the elements for their source.
    """
    value = check_range("ph", ph, 3, 10)
    check_range("good from", good[0], fair[0], good[1])
    check_range("good to", good[1], good[0], fair[1])
    if good[0] <= value <= good[1]:
        return "good"
    return "reduced" if fair[0] <= value <= fair[1] else "poor"
