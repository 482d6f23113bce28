"""Strength of feed, rinsing, pH and the water's own alkalinity."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.cases.facts import Facts
from consults.plans.quantities import Answer, NotKnown, quantity
from garden.agronomy.feed import (
    alkalinity_me_l,
    dilute_feed,
    drain_fraction,
    leach_volume_l,
    share_to_neutralise,
)
from garden.reference.schema import Band
from garden.wording import Wording

PLAIN_WATER_EC = 0.4  # taken when the water was not measured; common practice, no source
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
    lines = [
        _("range of this crop at this stage: EC %(low)s to %(high)s mS/cm")
        % {"low": f"{band.low:g}", "high": f"{band.high:g}"}
    ]
    if now is not None:
        lines.append(_("measured now: EC %(now)s mS/cm") % {"now": f"{now:g}"})
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
    parts = dilute_feed(10.0, now, target, water)
    shown = _("for every %(total)s: %(feed)s of your present mix and %(water)s of plain water") % {
        "total": wording.volume(10.0),
        "feed": wording.volume(parts.feed_l),
        "water": wording.volume(parts.water_l),
    }
    line = _("10 L × (%(target)s − %(water)s) ÷ (%(now)s − %(water)s) = %(feed)s L of the mix") % {
        "target": f"{target:.2f}",
        "water": f"{water:g}",
        "now": f"{now:g}",
        "feed": f"{parts.feed_l:.1f}",
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
    sentence = _(
        "%(volume)s of plain water through each pot, in three goes; "
        "then check that the run-off is below EC %(ec)s"
    )
    shown = sentence % {
        "volume": wording.volume(volume),
        "ec": wording.ec(target),
    }
    line = _("%(pot)s L × %(held)s × ln[(%(now)s − %(water)s) ÷ (%(target)s − %(water)s)] = %(volume)s L") % {
        "pot": f"{container:g}",
        "held": f"{medium.container_capacity:g}",
        "now": f"{now:g}",
        "water": f"{water:g}",
        "target": f"{target:.2f}",
        "volume": f"{volume:.1f}",
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
    share = drain_fraction(now, target, water)
    line = _("(%(now)s − %(target)s) ÷ (%(now)s − %(water)s) = %(share)s of the tank") % {
        "now": f"{now:g}",
        "target": f"{target:.2f}",
        "water": f"{water:g}",
        "share": f"{share:.2f}",
    }
    tank = facts.case.planting.reservoir_l
    if tank:
        shown = _("drain %(volume)s and refill with plain water to the old mark") % {
            "volume": wording.volume(share * tank)
        }
    else:
        shown = _("drain %(share)s of the tank and refill with plain water") % {
            "share": wording.percent(share)
        }
    return Answer(shown, (line,), "Mass balance; EC taken as adding up (within about 2 %)")


@quantity("ph-target", gettext_lazy("pH to aim for"))
def ph_target(facts: Facts, wording: Wording) -> Answer:
    band = band_or_ask(facts, "feed_ph")
    shown = _("pH %(low)s to %(high)s, in small steps, measured again after each") % {
        "low": wording.number(band.low, 1),
        "high": wording.number(band.high, 1),
    }
    return Answer(
        shown,
        (
            _("range of this crop: pH %(low)s to %(high)s")
            % {"low": f"{band.low:g}", "high": f"{band.high:g}"},
        ),
        facts.cite(band.source),
    )


@quantity("alkalinity-removal", gettext_lazy("Alkalinity of the water"))
def alkalinity_removal(facts: Facts, wording: Wording) -> Answer:
    now = facts.value("water_alkalinity_mg_l")
    if now is None:
        raise NotKnown(_("Measure the alkalinity of the water to work this out; a drop kit will do."))
    share = share_to_neutralise(now, ALKALINITY_LEFT_MG_L)
    if share == 0:
        raise NotKnown(_("The alkalinity of the water is low enough already."))
    remove = alkalinity_me_l(now) * share
    sentence = _(
        "for every %(tap)s of tap water %(pure)s of rain or reverse-osmosis water, %(share)s less alkalinity"
    )
    shown = sentence % {
        "tap": wording.volume(10.0),
        "pure": wording.volume(10.0 * share / (1 - share)),
        "share": wording.percent(share),
    }
    lines = (
        _("%(now)s mg/L CaCO3 = %(me)s me/L; %(left)s mg/L may stay, so %(remove)s me/L goes")
        % {
            "now": f"{now:g}",
            "me": f"{alkalinity_me_l(now):.2f}",
            "left": f"{ALKALINITY_LEFT_MG_L:g}",
            "remove": f"{remove:.2f}",
        },
        _("pure water to tap water: %(share)s ÷ (1 − %(share)s) = %(parts)s")
        % {
            "share": f"{share:.2f}",
            "parts": f"{share / (1 - share):.2f}",
        },
    )
    return Answer(
        shown,
        lines,
        "Definition, 1 me/L = 50.04 mg/L CaCO3; 60 to 100 mg/L left: UMass Extension, "
        "Adjusting alkalinity with acids",
    )


@quantity("magnesium-drench", gettext_lazy("Magnesium sulfate"))
def magnesium_drench(facts: Facts, wording: Wording) -> Answer:
    per_l = 1.2
    shown = _("%(grams)s grams of Epsom salt (magnesium sulfate) in %(volume)s of water, by itself") % {
        "grams": wording.number(per_l * 10, 0),
        "volume": wording.volume(10.0),
    }
    line = _("1.2 g/L, the lower end of 1 to 2 lb per 100 US gallons (1.2 to 2.4 g/L)")
    return Answer(shown, (line,), "Extension advice on magnesium drenches, read in a copy")
