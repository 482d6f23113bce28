"""Strength of feed, rinsing, pH and the water's own alkalinity."""

import math

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.cases.facts import Facts
from consults.plans.quantities import Answer, NotKnown, quantity
from garden.agronomy.feed import (
    after_swaps,
    alkalinity_me_l,
    dilute_feed,
    drain_fraction,
    leach_volume_l,
    share_to_neutralise,
)
from garden.agronomy.units import to_base
from garden.reference.schema import Band
from garden.wording import Wording

PLAIN_WATER_EC = 0.4  # taken when the water was not measured; common practice, no source
MAGNESIUM_SULFATE_G_L = 1.2  # 1 lb in 100 US gallons
ALKALINITY_LEFT_MG_L = 80.0  # within the 60 to 100 mg/L left behind that extension texts advise


def band_or_ask(facts: Facts, code: str) -> Band:
    band = facts.band(code)
    if band is None:
        raise NotKnown(_("This crop's profile has no range for it."))
    return band


def water_ec(facts: Facts) -> float:
    measured = facts.value("water_ec_ms_cm")
    return PLAIN_WATER_EC if measured is None else measured


def _middle(band: Band) -> float:
    return (band.low + band.high) / 2


@quantity("feed-ec-target", gettext_lazy("Strength of the feed"))
def feed_ec_target(facts: Facts, wording: Wording) -> Answer:
    band = band_or_ask(facts, "feed_ec_ms_cm")
    shown = _("EC %(low)s to %(high)s") % {"low": wording.number(band.low, 1), "high": wording.ec(band.high)}
    now = facts.value("feed_ec_ms_cm")
    lines = [_("range of this crop at this stage: %(range)s") % {"range": shown}]
    if now is not None:
        lines.append(_("measured now: EC %(now)s mS/cm") % {"now": wording.figure(now)})
    return Answer(shown, tuple(lines), facts.cite(band.source))


@quantity("feed-dilution", gettext_lazy("Thinning the feed"))
def feed_dilution(facts: Facts, wording: Wording) -> Answer:
    now = facts.value("feed_ec_ms_cm")
    if now is None:
        raise NotKnown(_("Measure the EC of the feed to work this out."))
    target, water = _middle(band_or_ask(facts, "feed_ec_ms_cm")), water_ec(facts)
    if now <= target:
        raise NotKnown(_("The feed is not too strong, so there is nothing to thin."))
    if target <= water:
        raise NotKnown(_("The water itself is too salty to thin with. Use purer water."))
    mix = wording.mix(dilute_feed(1.0, now, target, water).water_l)
    shown = _("%(feed)s of your present mix and %(water)s of plain water, for every %(total)s") % {
        "feed": mix.first,
        "water": mix.second,
        "total": mix.whole,
    }
    line = _("%(total)s × (%(target)s − %(water)s) ÷ (%(now)s − %(water)s) = %(feed)s of the mix") % {
        "total": mix.whole_sign,
        "target": wording.figure(target),
        "water": wording.figure(water),
        "now": wording.figure(now),
        "feed": mix.first,
    }
    return Answer(shown, (line,), "Mass balance; EC taken as adding up (within about 2 %)")


@quantity("leach-volume", gettext_lazy("Rinsing the pot"))
def leach_volume(facts: Facts, wording: Wording) -> Answer:
    container, medium = facts.case.planting.container_l, facts.medium
    if container is None or medium is None or not medium.container_capacity:
        raise NotKnown(_("Enter the size of the container and its medium to work this out."))
    code = "root_zone_ec_ms_cm" if facts.value("root_zone_ec_ms_cm") is not None else "runoff_ec_ms_cm"
    now = facts.value(code)
    if now is None:
        raise NotKnown(_("Measure the EC of the run-off to work this out."))
    target, water = band_or_ask(facts, code).high, water_ec(facts)
    if now <= target:
        raise NotKnown(_("The salts measured are within the range, so there is nothing to rinse."))
    if target <= water:
        raise NotKnown(_("The water itself is too salty to rinse with. Use purer water."))
    volume = leach_volume_l(container, medium.container_capacity, now, target, water)
    said = wording.volume(volume)
    sentence = _(
        "%(volume)s of plain water through each pot, in three goes; "
        "then check that the run-off is below EC %(ec)s"
    )
    shown = sentence % {"volume": wording.about(said, True), "ec": wording.ec(target)}
    line = _("%(pot)s × %(held)s × ln[(%(now)s − %(water)s) ÷ (%(target)s − %(water)s)] = %(volume)s") % {
        "pot": wording.measure(container, "L", volume),
        "held": wording.figure(medium.container_capacity),
        "now": wording.figure(now),
        "water": wording.figure(water),
        "target": wording.figure(target),
        "volume": said,
    }
    return Answer(shown, (line,), "Mass balance of a well-mixed pot", estimate=True)


@quantity("reservoir-dilution", gettext_lazy("Draining and refilling"))
def reservoir_dilution(facts: Facts, wording: Wording) -> Answer:
    now = facts.value("feed_ec_ms_cm")
    if now is None:
        raise NotKnown(_("Measure the EC of the reservoir to work this out."))
    target, water = _middle(band_or_ask(facts, "feed_ec_ms_cm")), water_ec(facts)
    if now <= target:
        raise NotKnown(_("The reservoir is not too strong, so there is nothing to drain."))
    if target <= water:
        raise NotKnown(_("The water itself is too salty to thin with. Use purer water."))
    share = 1 - math.sqrt(1 - drain_fraction(now, target, water))  # two equal swaps keep (1 − share)² of it
    line = _("each time 1 − √[(%(target)s − %(water)s) ÷ (%(now)s − %(water)s)] = %(share)s of the tank") % {
        "now": wording.figure(now),
        "target": wording.figure(target),
        "water": wording.figure(water),
        "share": wording.figure(share),
    }
    tank = facts.case.planting.reservoir_l
    said = wording.volume(share * tank) if tank else wording.percent(share, nearest=1)
    lines = [line]
    if tank:
        whole = wording.measure(tank, "L", share * tank)
        lines.append(f"{wording.figure(share)} × {whole} = {said}")
    steps = [wording.number(after_swaps(now, water, share, times), 2) for times in (1, 2)]
    lines.append(
        _("EC %(first)s after the first time, %(second)s after the second")
        % {"first": steps[0], "second": steps[1]}
    )
    amount = said if tank else _("%(share)s of the tank") % {"share": said}
    shown = _("drain %(amount)s and refill with plain water twice, a day apart") % {"amount": amount}
    return Answer(shown, tuple(lines), "Mass balance; EC taken as adding up (within about 2 %)")


@quantity("ph-target", gettext_lazy("pH to aim for"))
def ph_target(facts: Facts, wording: Wording) -> Answer:
    band = band_or_ask(facts, "feed_ph")
    reach = _("pH %(low)s to %(high)s") % {
        "low": wording.number(band.low, 1),
        "high": wording.number(band.high, 1),
    }
    shown = _("%(range)s, in small steps, measured again after each") % {"range": reach}
    line = _("range of this crop: %(range)s") % {"range": reach}
    return Answer(shown, (line,), facts.cite(band.source))


@quantity("alkalinity-removal", gettext_lazy("Alkalinity of the water"))
def alkalinity_removal(facts: Facts, wording: Wording) -> Answer:
    now = facts.value("water_alkalinity_mg_l")
    if now is None:
        raise NotKnown(_("Measure the alkalinity of the water to work this out; a drop kit will do."))
    share = share_to_neutralise(now, ALKALINITY_LEFT_MG_L)
    if share == 0:
        raise NotKnown(_("The alkalinity of the water is low enough already."))
    mix = wording.mix(share)
    sentence = _(
        "%(tap)s of tap water and %(pure)s of pure water, for every %(total)s "
        "(rain or reverse osmosis); %(share)s less alkalinity"
    )
    shown = sentence % {
        "tap": mix.first,
        "pure": mix.second,
        "total": mix.whole,
        "share": wording.percent(mix.second_share, nearest=1),
    }
    lines = (
        _("%(now)s mg/L CaCO3 = %(me)s me/L; %(left)s mg/L may stay, so %(remove)s me/L goes")
        % {
            "now": wording.figure(now),
            "me": wording.number(alkalinity_me_l(now), 2),
            "left": wording.figure(ALKALINITY_LEFT_MG_L),
            "remove": wording.number(alkalinity_me_l(now) * share, 2),
        },
        _("pure water: %(total)s × (1 − %(left)s ÷ %(now)s) = %(pure)s")
        % {
            "total": mix.whole_sign,
            "left": wording.figure(ALKALINITY_LEFT_MG_L),
            "now": wording.figure(now),
            "pure": mix.second,
        },
    )
    return Answer(
        shown,
        lines,
        "Definition, 1 me/L = 50.04 mg/L CaCO3; 60 to 100 mg/L left: UMass Extension, "
        "Adjusting alkalinity with acids",
        uses=(round(share * tank_l, 1), "L") if (tank_l := facts.case.planting.reservoir_l) else None,
    )


@quantity("magnesium-drench", gettext_lazy("Magnesium sulfate"))
def magnesium_drench(facts: Facts, wording: Wording) -> Answer:
    litres = to_base(5, "US gal") if wording.system == "us" else 10.0
    shown = _("%(weight)s of magnesium sulfate in %(volume)s of water, sold as Epsom salt") % {
        "weight": wording.weight(round(MAGNESIUM_SULFATE_G_L * litres, 1)),
        "volume": wording.volume(litres),
    }
    if wording.system == "us":
        line = _("1 lb per 100 US gallons, the lower end of 1 to 2 lb")
    else:
        line = _("1.2 g/L, the lower end of 1.2 to 2.4 g/L (1 to 2 lb per 100 US gallons)")
    return Answer(
        shown,
        (line,),
        "Extension advice on magnesium drenches, read in a copy",
        uses=(round(MAGNESIUM_SULFATE_G_L * litres, 1), "g"),
    )
