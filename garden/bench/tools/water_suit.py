"""Does a water suit: does its analysis add up, and where does it stand to published limits."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.water import (
    LimitStanding,
    Verdict,
    against_limits,
    charge_balance,
    german_degrees,
    hardness_mg_l,
    water_from_analysis,
)
from garden.bench.said import cite, said, sources
from garden.bench.tool import Answer, Field, Refused, Tool, Values, Words, maybe
from garden.reference.loader import load_reference
from garden.reference.schema import WaterLimit
from garden.wording import Wording

_USUAL_PH = 7.5
_ANALYTES = ("Ca", "Mg", "Na", "K", "Cl", "SO4", "NO3", "B")
_AS_LIMIT = {
    "Ca": "calcium_mg_l",
    "Mg": "magnesium_mg_l",
    "Na": "sodium_mg_l",
    "Cl": "chloride_mg_l",
    "SO4": "sulfate_mg_l",
    "B": "boron_mg_l",
}


def _usual_ph(values: Values) -> float:
    """The pH, which only shifts the balance a little; that of common tap water where none is given."""
    return maybe(values, "ph") or _USUAL_PH


def _measured(values: Values) -> tuple[dict[str, float], dict[str, float]]:
    """Ions by name, and all that the published limits speak of."""
    ions = {name: found for name in _ANALYTES if (found := maybe(values, name)) is not None}
    limited = {_AS_LIMIT[name]: found for name, found in ions.items() if name in _AS_LIMIT}
    for name in ("ec_ms_cm", "alkalinity_mg_l", "free_chlorine_mg_l"):
        found = maybe(values, name)
        if found is not None:
            limited[name] = found
    return ions, limited


def _range(wording: Wording, values: list[float], sentence: str) -> str:
    """ "fine up to 70–142": sources disagree, so both ends stand there."""
    if not values:
        return ""
    low, high = min(values), max(values)
    # A limit given in me/L comes out with more digits than anybody meant.
    ends = [wording.figure(low), wording.figure(high)]
    return sentence % (ends[0] if low == high else f"{ends[0]}–{ends[1]}")


def _limit_rows(wording: Wording, standings: Sequence[LimitStanding]) -> list[tuple[str, str]]:
    """One row for each quantity: value, worst standing, and the range of the published limits."""
    words = {"fine": _("fine"), "some-care": _("some care"), "severe": _("severe")}
    rows = []
    for quantity in dict.fromkeys(found.limit.quantity for found in standings):
        ours = [found for found in standings if found.limit.quantity == quantity]
        worst = max((found.standing for found in ours), key=list(words).index)
        fine = [found.limit.fine for found in ours if found.limit.fine is not None]
        severe = [found.limit.severe for found in ours if found.limit.severe is not None]
        edges = [_range(wording, fine, _("fine up to %s")), _range(wording, severe, _("severe above %s"))]
        unit = "mS/cm" if quantity == "ec_ms_cm" else "mg/L"
        shown = f"{ours[0].value:g} {unit}: {words[worst]} ({', '.join(filter(None, edges))})"
        rows.append((_named([quantity]), shown))
    return rows


def _balance_said(verdict: Verdict, percent: float) -> str:
    words = {
        "adds-up": _("adds up (%s %%)"),
        "doubtful": _("doubtful (%s %%): something was misread or not measured"),
        "does-not-add-up": _("does not add up (%s %%): an ion is missing, or misread"),
        "no-ions": _("no ions given (%s %%)"),
    }
    return words[verdict] % f"{percent:+.0f}".replace("-", "\N{MINUS SIGN}")


def compute(values: Values, wording: Wording) -> Answer:
    ions, limited = _measured(values)
    if not limited:
        raise Refused(_("Enter at least one result of the analysis, such as EC or alkalinity."), "ec_ms_cm")
    alkalinity = maybe(values, "alkalinity_mg_l")
    water = water_from_analysis(ions, ph=_usual_ph(values), alkalinity_mg_l=alkalinity)
    balance = charge_balance(water)
    limits = load_reference().water_limits.values()
    standings = against_limits(limited, limits)
    worst = {"severe": [], "some-care": [], "fine": []}  # type: dict[str, list[str]]
    for found in standings:
        worst[found.standing].append(found.limit.quantity)
    headline = _("Yes: nothing measured is above a published limit")
    if worst["severe"]:
        headline = _("Not as it is: %s above a severe limit") % _named(worst["severe"])
    elif worst["some-care"]:
        headline = _("With care: %s above what some sources call fine") % _named(worst["some-care"])
    facts = _limit_rows(wording, standings)
    if len(ions) >= 3 and alkalinity is not None:
        facts.append((_("The analysis"), _balance_said(balance.verdict, balance.difference_percent)))
    if "Ca" in ions and "Mg" in ions:
        hard = hardness_mg_l(ions["Ca"], ions["Mg"])
        facts.append(
            (
                _("Hardness"),
                _("%(mg)s mg/L as CaCO3, %(degrees)s German degrees")
                % {"mg": f"{hard:.0f}", "degrees": wording.number(german_degrees(hard), 1)},
            )
        )
    working = (
        _("cations %(plus)s me/L, anions %(minus)s me/L; up to %(allowed)s %% difference is allowed")
        % {
            "plus": f"{balance.cations_me_l:.2f}",
            "minus": f"{balance.anions_me_l:.2f}",
            "allowed": f"{balance.allowed_percent:.0f}",
        },
        *(() if maybe(values, "ph") else (_("no pH given: reckoned as %s") % wording.number(_USUAL_PH, 1),)),
        _("sources disagree, so every limit stands beside its use"),
        *(
            f"{_named([limit.quantity])}, {said(limit.use)}: {cite(limit.source)}"
            for found in standings
            if isinstance(limit := found.limit, WaterLimit)
        ),
    )
    source = sources("fao-29", _("criteria of Standard Methods 1030 E for the balance, from memory"))
    return Answer(headline, tuple(facts), working, source)


def _named(quantities: list[str]) -> str:
    names = {
        "ec_ms_cm": _("EC"),
        "tds_mg_l": _("dissolved salts"),
        "chloride_mg_l": _("chloride"),
        "boron_mg_l": _("boron"),
        "alkalinity_mg_l": _("alkalinity"),
        "sodium_mg_l": _("sodium"),
        "calcium_mg_l": _("calcium"),
        "magnesium_mg_l": _("magnesium"),
        "sulfate_mg_l": _("sulfate"),
        "free_chlorine_mg_l": _("free chlorine"),
    }
    return ", ".join(dict.fromkeys(str(names.get(code, code)) for code in quantities))


def _ion(name: str, label: Words, example: float, prefill: str = "", high: float = 5000.0) -> Field:
    return Field(name, label, "mg/L", 0, high, example=example, optional=True, prefill=prefill)


TOOL = Tool(
    "water-suit",
    gettext_lazy("Does the water suit?"),
    gettext_lazy("An analysis against published limits, its hardness, and whether it adds up."),
    "water",
    (
        Field("ph", gettext_lazy("pH"), None, 4, 10, example=7.6, optional=True, prefill="water_ph"),
        Field(
            "ec_ms_cm",
            gettext_lazy("EC"),
            "mS/cm",
            0,
            20,
            example=0.6,
            optional=True,
            prefill="water_ec_ms_cm",
        ),
        Field(
            "alkalinity_mg_l",
            gettext_lazy("Alkalinity as CaCO3"),
            "mg/L",
            0,
            2000,
            example=150,
            optional=True,
            prefill="water_alkalinity_mg_l",
        ),
        _ion("Ca", gettext_lazy("Calcium"), 60, high=1000),
        _ion("Mg", gettext_lazy("Magnesium"), 12, high=600),
        _ion("Na", gettext_lazy("Sodium"), 28, "water_sodium_mg_l"),
        _ion("K", gettext_lazy("Potassium"), 2),
        _ion("Cl", gettext_lazy("Chloride"), 45, "water_chloride_mg_l"),
        _ion("SO4", gettext_lazy("Sulfate (SO4)"), 37),
        _ion("NO3", gettext_lazy("Nitrate (NO3)"), 8),
        _ion("B", gettext_lazy("Boron"), 0.1),
        _ion("free_chlorine_mg_l", gettext_lazy("Free chlorine"), 0.3),
    ),
    compute,
)
