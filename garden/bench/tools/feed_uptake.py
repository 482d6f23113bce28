"""Which nutrients roots can take up at a pH."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.nutrients import availability
from garden.bench.measures import span
from garden.bench.said import listed, said, sources
from garden.bench.tool import Answer, Field, Tool, Values, amount
from garden.figures.bands import BandLabels, BandRow, Verdict, band_figure
from garden.reference.loader import load_reference
from garden.reference.schema import Element
from garden.wording import Wording


def _picture(wording: Wording, elements: list[Element], ph: float, headline: str) -> str:
    labels = BandLabels(
        inside=_("good"),
        above=_("too high"),
        below=_("too low"),
        no_band=_("not known"),
        comfortable=_("good"),
        tolerated=_("reduced"),
        last_time=_("last time"),
    )
    rows = []
    for element in elements:
        good, fair = element.good or (0.0, 0.0), element.fair or (0.0, 0.0)
        verdict: Verdict = "below" if ph < good[0] else "above" if ph > good[1] else "inside"
        rows.append(
            BandRow(
                said(element.name),
                wording.number(ph, 1),
                "",
                ph,
                *good,
                *fair,
                span(wording, good[0], good[1], 1),
                verdict,
            )
        )
    return band_figure(rows, title=headline, labels=labels, narrow=True)


def compute(values: Values, wording: Wording) -> Answer:
    ph = amount(values, "root_zone_ph")
    elements = [element for element in load_reference().elements.values() if element.good and element.fair]
    standing = {
        said(element.name): availability(ph, element.good, element.fair)
        for element in elements
        if element.good and element.fair
    }
    poor = [name for name, how in standing.items() if how == "poor"]
    reduced = [name for name, how in standing.items() if how == "reduced"]
    headline = _("All of them are well within reach")
    if poor:
        headline = _("Hard to get: %s") % listed(poor)
    elif reduced:
        headline = _("Less of: %s") % listed(reduced)
    facts = ((_("Poor"), listed(poor) or _("nothing")), (_("Reduced"), listed(reduced) or _("nothing")))
    working = (
        _("each nutrient has a pH range that is good, and a wider one that will do"),
        _("read off charts in common use, by judgement; an iron chelate may hold iron far above its range"),
    )
    picture = _picture(wording, elements, ph, headline)
    return Answer(headline, facts, working, sources("common practice, no source"), (), picture, estimate=True)


TOOL = Tool(
    "feed-uptake",
    gettext_lazy("What can roots take up at this pH?"),
    gettext_lazy("Which nutrients are well within reach, and which are hard to get."),
    "feed",
    (
        Field(
            "root_zone_ph", gettext_lazy("pH at the roots"), None, 3, 10, example=7.4, prefill="root_zone_ph"
        ),
    ),
    compute,
)
