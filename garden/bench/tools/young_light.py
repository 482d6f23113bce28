"""By which steps to lead plants to stronger light."""

from typing import cast

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from garden.agronomy.light import RampKind, light_ramp
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Tool, Values, amount, word
from garden.wording import Wording


def _kinds() -> Choices:
    return (("seedlings", _("seedlings")), ("moved-plants", _("plants under new lamps")))


def compute(values: Values, wording: Wording) -> Answer:
    now, wanted = amount(values, "ppfd_umol_m2_s"), amount(values, "target_umol_m2_s")
    steps = light_ramp(now, wanted, cast(RampKind, word(values, "kind")))
    if len(steps) == 1:
        headline = _("At once: set the lamps to %s of what you want in the end") % wording.percent(
            steps[0].share
        )
        if wanted <= now:
            headline = _("No steps are needed: it is not more light than they have")
    else:
        headline = _("In %(count)s steps over %(days)s") % {
            "count": len(steps),
            "days": ngettext("%s day", "%s days", steps[-1].day) % steps[-1].day,
        }
    facts = tuple(
        (
            _("Today") if step.day == 0 else _("Day %s") % step.day,
            _("%(light)s, %(share)s of the end")
            % {"light": wording.light(step.ppfd_umol_m2_s), "share": wording.percent(step.share)},
        )
        for step in steps
    )
    working = (
        _(
            "equal shares from %(now)s to %(wanted)s µmol/m²/s; seedlings at most a quarter more in 2 days, "
            "moved plants half more in 3 days"
        )
        % {"now": f"{now:.0f}", "wanted": f"{wanted:.0f}"},
    )
    notes = (_("Stop at a step where leaves curl or pale, and wait three days."),)
    return Answer(headline, facts, working, sources("common practice, no source"), notes=notes)


TOOL = Tool(
    "young-light",
    gettext_lazy("How fast may they get more light?"),
    gettext_lazy("Days and steps for seedlings, and for plants just moved under stronger lamps."),
    "young",
    (
        Field(
            "ppfd_umol_m2_s",
            gettext_lazy("Light they are used to"),
            "µmol/m²/s",
            0,
            3000,
            above=True,
            example=100,
        ),
        Field(
            "target_umol_m2_s",
            gettext_lazy("Light in the end"),
            "µmol/m²/s",
            0,
            3000,
            above=True,
            example=400,
            prefill="ppfd_umol_m2_s",
        ),
        Field("kind", gettext_lazy("They are"), choices=_kinds, example="seedlings"),
    ),
    compute,
)
