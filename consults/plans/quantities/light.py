"""How far to dim, raise or lengthen."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.cases.facts import Facts
from consults.plans.quantities import Answer, NotKnown, quantity
from consults.plans.quantities.salts import band_or_ask
from garden.agronomy.light import dim_fraction, dli_mol_m2_d, height_for_ppfd_m, hours_for_dli_h
from garden.wording import Wording

# What most crops take without harm; continuous light injures tomato (Frontiers in Plant Science 10:1114).
LONGEST_DAY_H = 16.0


def _light_now(facts: Facts) -> float:
    now = facts.value("ppfd_umol_m2_s")
    if now is None or now < 1:  # darkness can be neither dimmed nor multiplied
        raise NotKnown(_("Measure the light at the leaves, or enter the lamps and the size of the space."))
    return now


def _too_bright(facts: Facts) -> tuple[float, float]:
    now, target = _light_now(facts), band_or_ask(facts, "ppfd_umol_m2_s").high
    if now <= target:
        raise NotKnown(
            _("The light is within the crop's range. Dim by a third for three days and watch the new leaves.")
        )
    return now, target


def _estimated(facts: Facts) -> bool:
    known = facts.known.get("ppfd_umol_m2_s")
    return known is not None and known.origin == "estimated"


@quantity("lamp-dim", gettext_lazy("Dimming the lamp"))
def lamp_dim(facts: Facts, wording: Wording) -> Answer:
    now, target = _too_bright(facts)
    share, estimate = dim_fraction(now, target), _estimated(facts)
    said = wording.percent(share)
    line = _("%(target)s ÷ %(now)s µmol/m²/s = %(share)s, so %(said)s") % {
        "target": wording.number(target, 0),
        "now": wording.number(now, 0),
        "share": wording.figure(share),
        "said": said,
    }
    shown = _("dim to %(share)s of what it gives now") % {"share": wording.about(said, estimate)}
    return Answer(shown, (line,), "Light follows the lamp's output", estimate)


@quantity("lamp-raise", gettext_lazy("Raising the lamp"))
def lamp_raise(facts: Facts, wording: Wording) -> Answer:
    now, target = _too_bright(facts)
    heights = [lamp.height_m for lamp in facts.case.garden.lamps if lamp.height_m]
    if not heights:
        raise NotKnown(_("Enter how high the lamp hangs above the leaves."))
    wanted = height_for_ppfd_m(min(heights), now, target)
    said = wording.length(wanted)
    line = _("%(height)s × √(%(now)s ÷ %(target)s) = %(wanted)s") % {
        "height": wording.measure(min(heights), "m", wanted),
        "now": wording.number(now, 0),
        "target": wording.number(target, 0),
        "wanted": said,
    }
    shown = _("raise it to %(height)s above the leaves, then measure again") % {
        "height": wording.about(said, True)
    }
    return Answer(shown, (line,), "Inverse square law, good for a small lamp only", estimate=True)


@quantity("lamp-hours", gettext_lazy("Hours of light"))
def lamp_hours(facts: Facts, wording: Wording) -> Answer:
    now, band = _light_now(facts), band_or_ask(facts, "dli_mol_m2_d")
    target, estimate = (band.low + band.high) / 2, _estimated(facts)
    longest = max(LONGEST_DAY_H, min(facts.value("photoperiod_h") or 0, 18.0))
    wanted = hours_for_dli_h(target, now) if dli_mol_m2_d(now, 24) > target else longest
    hours = max(0.5, round(min(wanted, longest) * 2) / 2)  # as a timer is set
    gives = dli_mol_m2_d(now, hours)
    lines = [
        _("wanted: %(low)s to %(high)s mol/m²/d")
        % {"low": wording.figure(band.low), "high": wording.figure(band.high)},
        _("%(now)s µmol/m²/s × %(hours)s h × 0.0036 = %(dli)s mol/m²/d")
        % {"now": wording.number(now, 0), "hours": wording.figure(hours), "dli": wording.figure(gives)},
    ]
    shown = _("%(hours)s of light a day by timer") % {"hours": wording.about(wording.hours(hours), estimate)}
    if gives < band.low:
        shown += " " + _("(still short of what the crop wants: a brighter or closer lamp is needed)")
    return Answer(shown, tuple(lines), facts.cite(band.source), estimate)


@quantity("lamp-brighten", gettext_lazy("More light"))
def lamp_brighten(facts: Facts, wording: Wording) -> Answer:
    now, band = _light_now(facts), band_or_ask(facts, "ppfd_umol_m2_s")
    if now >= band.low:
        raise NotKnown(_("The light is within the crop's range."))
    estimate = _estimated(facts)
    line = _("%(low)s ÷ %(now)s µmol/m²/s = %(times)s times") % {
        "low": wording.number(band.low, 0),
        "now": wording.number(now, 0),
        "times": wording.figure(band.low / now),
    }
    shown = _("at least %(low)s at the leaves, from %(now)s now; over a few days") % {
        "low": wording.light(band.low),
        "now": wording.about(wording.number(now, 0), estimate),
    }
    return Answer(shown, (line,), facts.cite(band.source), estimate)
