"""Is a pot watered too often for what its plant can use?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.watering import Overwatering, dry_down, overwatering
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
from garden.bench.tool import Answer, Field, Tool, Values, amount
from garden.figures.drydown import DrydownLabels, drydown_figure
from garden.wording import Wording


def _headline(wording: Wording, found: Overwatering) -> str:
    words = {
        "too-often": _("Yes, too often: it never dries. Wait %(due)s between waterings"),
        "fitting": _("No, it dries enough in between; at the longest wait %(due)s"),
        "too-seldom": _("No, rather too seldom: %(due)s between waterings would do"),
        "dries-out": _("No: it dries out in between. Water after %(due)s"),
    }
    if found.rhythm == "fitting" and found.applied_ratio > 1.5:
        return _("Not too often, but %(times)s times as much as it uses; the rest runs through") % {
            "times": wording.number(found.applied_ratio, 1)
        }
    return words[found.rhythm] % {"due": _days(wording, found.due_days)}


def _picture(wording: Wording, pot: Pot, daily_l: float, found: Overwatering, headline: str) -> str:
    scale = drying_scale(pot, wording)
    labels = DrydownLabels(scale.label, _("Days after watering"), _("water now"), _("next watering"))
    days = found.given_days
    end = max(2 * found.due_days, days)
    drying = dry_down(pot.stock_l, daily_l, min(365.0, end), DEPLETION)
    curve = [(day, left * scale.per_litre) for day, left in drying]
    left = min(curve, key=lambda pair: abs(pair[0] - days))[1]
    return drydown_figure(
        curve,
        pot.stock_l * (1 - DEPLETION) * scale.per_litre,
        title=_("How this pot dries"),
        desc=headline,
        labels=labels,
        now=(days, left),
    )


def compute(values: Values, wording: Wording) -> Answer:
    pot, use = pot_of(values), use_of(values, wording)
    given, days = amount(values, "applied_l"), amount(values, "between_days")
    found = overwatering(given, days, pot.stock_l, use.litres, DEPLETION)
    headline = _headline(wording, found)
    facts = (
        (_("Given, against what the plant uses"), _("%s times") % wording.number(found.applied_ratio, 1)),
        (_("Water used up when the next comes"), wording.percent(found.depletion)),
        (_("One plant uses a day"), wording.volume(use.litres)),
        (_("Given a day"), wording.volume(given / days)),
        (_("By a second reckoning it uses"), wording.volume(use.second_l)),
    )
    poured, daily = alike(wording, "L", use.litres, given, use.litres)
    working = (
        pot_line(pot, wording, use),
        *use.lines,
        _("given %(given)s ÷ (%(use)s a day × days: %(days)s) = %(ratio)s")
        % {
            "given": poured,
            "use": daily,
            "days": f"{days:g}",
            "ratio": f"{found.applied_ratio:.1f}",
        },
        _("used between waterings: %(share)s of what the plant can take up; half may go")
        % {"share": f"{found.depletion:.2f}"},
        _("“too often” is below two fifths of that half: judgement"),
    )
    second = overwatering(given, days, pot.stock_l, use.second_l, DEPLETION)
    otherwise = (
        (_("The second reckoning says: %s.") % _headline(wording, second),)
        if second.rhythm != found.rhythm
        else ()
    )
    notes = (
        *otherwise,
        _("It is how often that drowns roots: what a drained pot cannot hold runs through."),
        *far_apart(wording, use),
    )
    source = sources(pot.medium.source, USE_SOURCE, str(HALF_SOURCE))
    picture = _picture(wording, pot, use.litres, found, headline)
    return Answer(headline, facts, working, source, (), picture, estimate=True, notes=notes)


def _days(wording: Wording, days: float) -> str:
    """Days to a half."""
    return _("%s days") % wording.significant(round(days * 2) / 2 if days >= 1 else round(days, 1))


TOOL = Tool(
    "watering-much",
    gettext_lazy("Am I watering too much?"),
    gettext_lazy("What is poured against what the plant can use, and whether the pot ever dries."),
    "watering",
    (
        Field(
            "applied_l",
            gettext_lazy("Poured each time, each pot"),
            "L",
            0,
            1000,
            above=True,
            example=0.4,
            us_unit="fl oz",
            prefill="watering_volume_l",
        ),
        Field(
            "between_days",
            gettext_lazy("Days between waterings"),
            None,
            0,
            365,
            above=True,
            example=1,
            prefill="watering_interval_days",
        ),
        *POT,
        *USE,
    ),
    compute,
)
