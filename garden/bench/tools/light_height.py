"""How far to move the lamp, or to dim it, for the light the crop likes."""

import math

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.light import dim_fraction, height_range_for_ppfd_m
from garden.bench import fields
from garden.bench.measures import length_span, lengths
from garden.bench.said import band_or_refuse, sources
from garden.bench.tool import Answer, Field, Refused, Tool, Values, amount, maybe, word
from garden.wording import Wording

_HIGHEST_M = 10.0  # no room has its lamps higher above the leaves; judgement


def _target(values: Values, now: float) -> tuple[float, str, str]:
    """The light to aim at, where it comes from, and a source."""
    asked = maybe(values, "target_umol_m2_s")
    if asked is not None:
        return asked, _("as typed"), ""
    band = band_or_refuse(word(values, "crop"), word(values, "stage"), "ppfd_umol_m2_s")
    nearest = min(max(now, band.low), band.high)
    return (
        nearest,
        _("the nearest edge of the crop's %s µmol/m²/s") % f"{band.low:g}–{band.high:g}",
        band.source,
    )


def _working(wording: Wording, height: float, now: float, target: float) -> tuple[str, ...]:
    point, tube = height * math.sqrt(now / target), height * now / target
    start, by_square, by_line = lengths(wording, max(point, tube), height, point, tube)
    words = {
        "height": start,
        "now": wording.figure(now),
        "target": wording.figure(target),
        "square": by_square,
        "line": by_line,
    }
    return (
        _("small lamp, inverse square: %(height)s × √(%(now)s ÷ %(target)s) = %(square)s") % words,
        _("long tube, inverse distance: %(height)s × %(now)s ÷ %(target)s = %(line)s") % words,
        _("the truth lies between; panels over the whole space fall off more slowly still"),
    )


def compute(values: Values, wording: Wording) -> Answer:
    now, height = amount(values, "ppfd_umol_m2_s"), amount(values, "height_m")
    target, why, source = _target(values, now)
    cautions: tuple[str, ...] = (
        _("Unplug lamps and let them cool before you move them; hang them so that they cannot fall."),
    )
    if abs(target - now) < 0.02 * now:
        line = _("%(now)s µmol/m²/s lies within what is wanted") % {"now": f"{now:.0f}"}
        here = ((_("Light now"), wording.light(now)), (_("Aim"), why))
        return Answer(_("Leave the lamp where it is"), here, (line,), sources(source or why))
    low, high = height_range_for_ppfd_m(height, now, target)
    if low > _HIGHEST_M:
        raise Refused(
            _("For so little light it would have to hang far above the room. Dim it, or take lamps out."),
            "target_umol_m2_s",
        )
    if target > now:
        cautions += (
            _("Stay as far away as the lamp's sheet says: near lamps scorch leaves and can start a fire."),
        )
    sentence = (
        _("Raise it by %(way)s, then measure again")
        if target < now
        else _("Lower it by %(way)s, then measure again")
    )
    moves = sorted(abs(end - height) for end in (low, high))
    facts = [
        (_("Height above the leaves then"), length_span(wording, low, high)),
        (_("Light to aim for"), _("%(light)s (%(why)s)") % {"light": wording.light(target), "why": why}),
    ]
    if target < now:
        facts.append((_("Or dim it to"), wording.percent(dim_fraction(now, target))))
    headline = sentence % {"way": length_span(wording, moves[0], moves[1])}
    said = sources(_("Geometry of light: inverse square and inverse distance"), source)
    return Answer(
        headline, tuple(facts), _working(wording, height, now, target), said, cautions, estimate=True
    )


TOOL = Tool(
    "light-height",
    gettext_lazy("How far up do I move the lamp?"),
    gettext_lazy("From the light at the leaves now to what the crop likes: raise, lower or dim."),
    "light",
    (
        fields.PPFD,
        Field(
            "height_m",
            gettext_lazy("Lamp above the leaves"),
            "m",
            0,
            20,
            above=True,
            example=0.4,
            metric_unit="cm",
            us_unit="in",
            prefill="lamp_height_m",
        ),
        fields.CROP,
        fields.STAGE,
        Field(
            "target_umol_m2_s",
            gettext_lazy("Light wanted, if you know it"),
            "µmol/m²/s",
            0,
            3000,
            above=True,
            example=250,
            optional=True,
        ),
    ),
    compute,
)
