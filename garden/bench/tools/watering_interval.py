"""How often a pot wants water, how much, and what it weighs then."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.container import LiftWeights, lift_weights
from garden.agronomy.watering import dry_down, watering_plan
from garden.bench.measures import alike
from garden.bench.pots import (
    DEPLETION,
    HALF_SOURCE,
    POT,
    USE,
    USE_SOURCE,
    Pot,
    drying_scale,
    far_apart,
    pot_line,
    pot_of,
    use_of,
)
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Tool, Values, maybe
from garden.figures.drydown import DrydownLabels, drydown_figure
from garden.wording import Wording


def _picture(wording: Wording, pot: Pot, daily_l: float, days: float, headline: str) -> str:
    scale = drying_scale(pot, wording)
    labels = DrydownLabels(
        water_left=scale.label,
        days=_("Days after watering"),
        water_now=_("water now"),
        today=_("today"),
    )
    curve = dry_down(pot.stock_l, daily_l, min(365.0, 2 * days), DEPLETION)
    return drydown_figure(
        [(day, left * scale.per_litre) for day, left in curve],
        pot.stock_l * (1 - DEPLETION) * scale.per_litre,
        title=_("How this pot dries"),
        desc=headline,
        labels=labels,
    )


def _weights(wording: Wording, weights: LiftWeights, whole: bool) -> list[tuple[str, str]]:
    lighter = (_("Water when it is lighter by"), wording.weight(weights.full_g - weights.water_now_g))
    if not whole:
        return [lighter]
    return [
        (_("Weighs after watering"), wording.weight(weights.full_g)),
        (_("Water it at"), wording.weight(weights.water_now_g)),
        (_("Wilts at about"), wording.weight(weights.wilting_g)),
    ]


def compute(values: Values, wording: Wording) -> Answer:
    pot, use = pot_of(values), use_of(values, wording)
    through = (maybe(values, "leach_percent") or 0.0) / 100
    plan = watering_plan(pot.stock_l, use.litres, DEPLETION, through)
    empty = maybe(values, "empty_pot_g")
    weights = lift_weights(
        pot.litres, pot.capacity, pot.available, pot.medium.dry_density_kg_l or 0.0, empty_pot_g=empty or 0.0
    )
    headline = _("About %(often)s, %(volume)s each time") % {
        "often": wording.every(plan.interval_days),
        "volume": wording.volume(plan.apply_l),
    }
    facts = [
        (_("One plant uses a day"), wording.volume(use.litres)),
        (_("Of it runs through"), wording.volume(plan.drain_l)),
        *_weights(wording, weights, empty is not None),
        (_("By a second reckoning it uses"), wording.volume(use.second_l)),
        (_("and so wants water"), wording.every(pot.stock_l * DEPLETION / use.second_l)),
    ]
    stock, daily, used, applied = alike(
        wording, "L", use.litres, pot.stock_l, use.litres, plan.used_l, plan.apply_l
    )
    working = (
        pot_line(pot, wording, use),
        *use.lines,
        _("%(stock)s × %(part)s ÷ %(use)s a day = %(days)s days")
        % {
            "stock": stock,
            "part": f"{DEPLETION:g}",
            "use": daily,
            "days": f"{plan.interval_days:.1f}",
        },
        _("used up %(used)s ÷ (1 − %(through)s run-off) = %(volume)s")
        % {"used": used, "through": f"{through:g}", "volume": applied},
    )
    source = sources(pot.medium.source, USE_SOURCE, "uf-ep529", str(HALF_SOURCE))
    notes = (
        _("The weight decides, not the calendar: lift the pot before you water."),
        *far_apart(wording, use),
    )
    picture = _picture(wording, pot, use.litres, plan.interval_days, headline)
    return Answer(headline, tuple(facts), working, source, (), picture, estimate=True, notes=notes)


TOOL = Tool(
    "watering-interval",
    gettext_lazy("How often should this pot be watered?"),
    gettext_lazy("Days between waterings, how much each time, and what the pot weighs when it is due."),
    "watering",
    (
        *POT,
        *USE,
        Field(
            "leach_percent",
            gettext_lazy("To run through"),
            "%",
            0,
            50,
            example=10,
            optional=True,
            help=gettext_lazy("Nothing when left empty; a tenth keeps salts down."),
        ),
        Field(
            "empty_pot_g",
            gettext_lazy("Weight of the empty pot"),
            "g",
            0,
            1e6,
            example=120,
            optional=True,
            us_unit="oz",
        ),
    ),
    compute,
)
