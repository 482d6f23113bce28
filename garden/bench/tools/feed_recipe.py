"""What to mix of the products on the shelf to come nearest to a target."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.mix import Product, mix_products
from garden.agronomy.recipe import Miss, RecipeResult, ShelfItem, best_addition, solve_recipe
from garden.agronomy.water import elements_mg_l
from garden.bench.chemistry import EQUILIBRIUM, WATER, element_name, plain_water, solid_cautions
from garden.bench.label_rows import HELP, Row, assumed, read_rows, salt_content
from garden.bench.said import said, small_volume, small_weight, sources
from garden.bench.tool import Answer, Choices, Field, Tool, Values, amount, maybe, word
from garden.figures.bands import BandLabels, BandRow, Verdict, band_figure
from garden.reference.loader import load_reference
from garden.wording import Wording

_MOST_ML_L, _MOST_G_L = 20.0, 5.0
# How near counts as met: judgement.
_NEAR, _FAIR = 0.10, 0.25
_HELPERS = (
    "calcium-nitrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "magnesium-sulfate",
    "potassium-sulfate",
    "magnesium-nitrate",
    "ammonium-nitrate",
    "iron-dtpa",
)


def _targets() -> Choices:
    return tuple((code, said(recipe.name)) for code, recipe in load_reference().recipes.items())


def _shelf(rows: Sequence[Row], step_ml: float, step_g: float) -> list[ShelfItem]:
    return [
        ShelfItem(
            row.product,
            step_ml if row.product.unit == "mL" else step_g,
            row.dose_per_l or (_MOST_ML_L if row.product.unit == "mL" else _MOST_G_L),
        )
        for row in rows
    ]


def _picture(wording: Wording, misses: Sequence[Miss], title: str) -> str:
    labels = BandLabels(
        inside=_("near"),
        above=_("above"),
        below=_("below"),
        no_band=_("not wanted"),
        comfortable=_("wanted"),
        tolerated=_("near enough"),
        last_time=_("last time"),
    )
    rows = []
    for miss in misses:
        target, reached = miss.target_mg_l, miss.reached_mg_l
        low, high = target * (1 - _NEAR), target * (1 + _NEAR)
        verdict: Verdict = "above" if reached > high else "below" if reached < low else "inside"
        decimals = 0 if target >= 10 else 2
        rows.append(
            BandRow(
                element_name(miss.element),
                wording.number(reached, decimals),
                "mg/L",
                reached,
                low,
                high,
                target * (1 - _FAIR),
                target * (1 + _FAIR),
                wording.number(target, decimals),
                verdict,
            )
        )
    return band_figure(rows, title=title, labels=labels, narrow=True)


def _help_most(water: dict[str, float], shelf: list[ShelfItem], target: dict[str, float]) -> str:
    salts = load_reference().salts
    candidates = [
        ShelfItem(Product(code, salt_content(salts[code]), "g", closes=True), 0.1, _MOST_G_L)
        for code in _HELPERS
    ]
    found = best_addition(water, shelf, target, candidates)
    return said(salts[found[0]].name) if found else ""


def _dose(wording: Wording, row: Row, result: RecipeResult) -> str:
    total = result.doses[row.product.code]
    return small_volume(wording, total) if row.product.unit == "mL" else small_weight(wording, total)


def compute(values: Values, wording: Wording) -> Answer:
    rows = read_rows(word(values, "products"), "products", doses=False)
    volume, strength = amount(values, "volume_l"), (maybe(values, "strength_percent") or 100.0) / 100
    recipe = load_reference().recipes[word(values, "target")]
    target = {name: mg * strength for name, mg in recipe.mg_l.items()}
    water = plain_water(values)
    given = elements_mg_l(water)
    shelf = _shelf(rows, maybe(values, "step_ml") or 1.0, maybe(values, "step_g") or 0.5)
    result = solve_recipe(given, shelf, target, volume_l=volume)
    mixed = mix_products(water, [(row.product, result.doses_per_l[row.product.code]) for row in rows])
    doses = [(row.name, _dose(wording, row, result)) for row in rows]
    headline = _("Into %(volume)s: %(doses)s") % {
        "volume": wording.volume(volume),
        "doses": ", ".join(f"{name} {dose}" for name, dose in doses),
    }
    facts = [*doses, (_("EC then"), wording.ec(mixed.ec_ms_cm)), *_misses(result.misses)]
    helper = _help_most(given, shelf, target)
    if helper:
        facts.append((_("One more product that would help most"), helper))
    likely = [risk for risk in mixed.risks if risk.level == "likely"]
    working = (
        _("least squares of the misses as shares of the target, doses within 0 and the most allowed"),
        *(_working(miss) for miss in result.misses),
        _("misfit %(misfit)s; %(exact)s if it could be measured as finely as wished")
        % {"misfit": f"{result.misfit:.4f}", "exact": f"{result.exact_misfit:.4f}"},
    )
    source = sources(recipe.source, _("bounded least squares"), str(EQUILIBRIUM))
    notes = (
        *assumed(rows),
        *solid_cautions(likely),
        _("Dilute each product before the next goes in. Check EC and pH with a meter."),
    )
    return Answer(
        headline,
        tuple(facts),
        working,
        source,
        (),
        _picture(wording, result.misses, headline),
        estimate=True,
        notes=notes,
    )


def _misses(misses: Sequence[Miss]) -> list[tuple[str, str]]:
    """What is not near its target, and what no product holds."""
    off = [miss for miss in misses if miss.percent is not None and abs(miss.percent) > 100 * _NEAR]
    without = [miss for miss in off if miss.reached_mg_l <= 0]
    near = ", ".join(_off(miss) for miss in off if miss not in without)
    facts = [(_("Off by more than a tenth"), near or _("nothing"))]
    if without:
        facts.append((_("Not in it at all"), ", ".join(element_name(miss.element) for miss in without)))
    return facts


def _off(miss: Miss) -> str:
    return f"{element_name(miss.element)} {miss.percent:+.0f} %".replace("-", "\N{MINUS SIGN}")


def _working(miss: Miss) -> str:
    return _("%(name)s: wanted %(target)s, reached %(reached)s mg/L") % {
        "name": miss.element,
        "target": f"{miss.target_mg_l:.3g}",
        "reached": f"{miss.reached_mg_l:.3g}",
    }


TOOL = Tool(
    "feed-recipe",
    gettext_lazy("What should I mix?"),
    gettext_lazy("Doses of what is on the shelf that come nearest to a published solution."),
    "feed",
    (
        Field(
            "products",
            gettext_lazy("Products on the shelf"),
            rows=5,
            help=HELP,
            example=(
                "Calcium nitrate: calcium-nitrate; 2 g/L\nPotassium nitrate: potassium-nitrate; 2 g/L\n"
                "MKP: monopotassium-phosphate; 1 g/L\nEpsom salt: magnesium-sulfate; 1 g/L"
            ),
        ),
        Field("target", gettext_lazy("To come near to"), choices=_targets, example="hoagland-1"),
        Field(
            "strength_percent",
            gettext_lazy("Strength of it"),
            "%",
            1,
            200,
            example=50,
            optional=True,
            help=gettext_lazy("Full strength when left empty."),
        ),
        Field(
            "volume_l",
            gettext_lazy("To make"),
            "L",
            0,
            1e6,
            above=True,
            example=40,
            us_unit="US gal",
            prefill="reservoir_l",
        ),
        Field(
            "step_ml",
            gettext_lazy("Smallest step of liquids (mL)"),
            None,
            0,
            1000,
            above=True,
            example=1,
            optional=True,
        ),
        Field(
            "step_g",
            gettext_lazy("Smallest step of powders (g)"),
            None,
            0,
            1000,
            above=True,
            example=0.5,
            optional=True,
        ),
        *WATER,
    ),
    compute,
)
