"""What the feed and water tools share: the plain water, elements in order, and solids that fall out."""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.mix import Risk
from garden.agronomy.water import Water, water_from_analysis
from garden.bench.said import mg_l, said
from garden.bench.tool import Field, Values, maybe
from garden.reference.loader import load_reference
from garden.wording import Wording

ORDER = ("N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B", "Mo", "Si", "Na", "Cl")
EQUILIBRIUM = gettext_lazy("mass balance; equilibrium, EC and solids by the program PHREEQC at 25 °C (77 °F)")

WATER = (
    Field(
        "alkalinity_mg_l",
        gettext_lazy("Alkalinity of the water as CaCO3"),
        "mg/L",
        0,
        2000,
        example=80,
        optional=True,
        prefill="water_alkalinity_mg_l",
    ),
    Field("Ca", gettext_lazy("Calcium in the water"), "mg/L", 0, 1000, example=30, optional=True),
    Field("Mg", gettext_lazy("Magnesium in the water"), "mg/L", 0, 1000, example=6, optional=True),
)


def plain_water(values: Values, ph: float = 7.5) -> Water:
    """The water of the inputs; pure water where nothing is known."""
    ions = {name: value for name in ("Ca", "Mg", "Na", "Cl") if (value := maybe(values, name)) is not None}
    return water_from_analysis(
        ions, ph=maybe(values, "ph") or ph, alkalinity_mg_l=maybe(values, "alkalinity_mg_l") or 0.0
    )


def element_name(symbol: str) -> str:
    """The name of an element by its symbol."""
    for element in load_reference().elements.values():
        if element.symbol == symbol:
            return said(element.name)
    return symbol


def element_rows(wording: Wording, amounts: Mapping[str, float]) -> list[tuple[str, str]]:
    """Elements in the order of labels, those that are there."""
    return [
        (f"{element_name(symbol)} ({symbol})", mg_l(wording, amounts[symbol]))
        for symbol in ORDER
        if amounts.get(symbol, 0.0) >= 0.005
    ]


def solid_names(risks: Iterable[Risk]) -> str:
    """Names of solids, one after another."""
    return ", ".join(said(load_reference().solids[risk.solid].name) for risk in risks)


def solid_cautions(risks: Iterable[Risk]) -> tuple[str, ...]:
    """What to do about each solid that may fall out."""
    return tuple(said(load_reference().solids[risk.solid].words) for risk in risks)


def main_line(wording: Wording, amounts: Mapping[str, float]) -> str:
    """ "N 150, P 40, K 200 mg/L"."""
    shown = [f"{name} {wording.number(amounts.get(name, 0.0), 0)}" for name in ("N", "P", "K")]
    return _("%s mg/L") % ", ".join(shown)
