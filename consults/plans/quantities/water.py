"""How often, how much, and how to feel it in the hand."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.cases.facts import Facts
from consults.plans.quantities import Answer, NotKnown, quantity
from garden.agronomy.watering import (
    available_water_l,
    daily_water_use_l,
    irrigation_volume_l,
    ready_to_water_loss_g,
    watering_interval_days,
)
from garden.bench.pots import COVER_BY_STAGE, DEPLETION
from garden.wording import Wording

LONGEST_DAYS = 14.0  # nobody should leave a pot longer without a look; judgement
RUN_THROUGH = 0.10  # leaching fraction aimed at; below the 0.15 of UF/IFAS EP529
SOURCE = (
    "Mass balance; water use by energy balance or FAO-56 equation 6; "
    "half the water used before the next: common practice, no source"
)


def pot(facts: Facts) -> tuple[float, float]:
    """Volume of one container in litres and the share of it that is water plants can take up."""
    container, medium = facts.case.planting.container_l, facts.medium
    if container is None:
        raise NotKnown(_("Enter the size of the container to work this out."))
    if medium is None or not medium.available_water:
        raise NotKnown(_("Enter the medium in the container to work this out."))
    return container, medium.available_water


def use_per_plant_l(facts: Facts) -> float:
    """Litres one plant uses in a day: an estimate from light, air and the space it stands in."""
    ppfd, hours = facts.value("ppfd_umol_m2_s"), facts.value("photoperiod_h")
    if ppfd is None or hours is None:
        raise NotKnown(_("Enter the lamps, or measure the light, and say how many hours they are on."))
    if not facts.area_m2 or not facts.case.planting.plants:
        raise NotKnown(_("Enter the length and width of the space and the number of plants."))
    share = COVER_BY_STAGE.get(facts.case.planting.stage or "", 0.7)
    total = daily_water_use_l(
        ppfd, hours, facts.area_m2, share, facts.value("air_temp_c"), facts.value("rh_percent")
    )
    if total < 0.001:
        raise NotKnown(_("Without light this cannot be worked out."))
    return total / facts.case.planting.plants


@quantity("watering-interval", gettext_lazy("How often to water"))
def watering_interval(facts: Facts, wording: Wording) -> Answer:
    container, share = pot(facts)
    use, stock = use_per_plant_l(facts), available_water_l(container, share)
    days = watering_interval_days(stock, use, DEPLETION)
    often = wording.every(min(days, LONGEST_DAYS))
    lighter = ready_to_water_loss_g(container, share, DEPLETION)
    shown = _("%(often)s, when the pot is %(weight)s lighter than just after watering") % {
        "often": wording.about(often, True),
        "weight": wording.weight(lighter),
    }
    held, used = (wording.measure(litres, "L", stock) for litres in (stock, use))
    divided = _("%(stock)s × %(part)s ÷ %(use)s a day = %(days)s days: %(often)s") % {
        "stock": held,
        "part": wording.figure(DEPLETION),
        "use": used,
        "days": wording.figure(round(days, 1) or days),
        "often": often,
    }
    lines = [
        _("water the plant can take up: %(pot)s × %(share)s = %(stock)s")
        % {"pot": wording.measure(container, "L", stock), "share": wording.figure(share), "stock": held},
        _("estimated use of one plant: %(use)s a day") % {"use": used},
        divided if days <= LONGEST_DAYS else divided + " " + _("at the longest"),
        *_given(facts, wording, use, stock),
    ]
    return Answer(shown, tuple(lines), SOURCE, estimate=True)


def _given(facts: Facts, wording: Wording, use_l: float, stock_l: float) -> list[str]:
    """What is poured on now, when that is far more than one plant can use."""
    applied = facts.case.planting.watering_volume_l
    every = facts.case.planting.watering_interval_days
    if not applied or not every or applied / every <= 1.5 * use_l:
        return []
    return [
        _("given now: %(given)s a day, about %(times)s times what one plant can use")
        % {
            "given": wording.measure(applied / every, "L", stock_l),
            "times": wording.figure(round(applied / every / use_l, 1)),
        }
    ]


@quantity("watering-volume", gettext_lazy("How much each time"))
def watering_volume(facts: Facts, wording: Wording) -> Answer:
    container, share = pot(facts)
    lost = available_water_l(container, share) * DEPLETION
    volume = irrigation_volume_l(lost, RUN_THROUGH)
    said = wording.volume(volume)
    line = _("used up %(lost)s ÷ (1 − %(through)s run-off) = %(volume)s") % {
        "lost": wording.measure(lost, "L", volume),
        "through": wording.figure(RUN_THROUGH),
        "volume": said,
    }
    shown = _("%(volume)s for each pot, slowly, until a little runs out") % {
        "volume": wording.about(said, True)
    }
    return Answer(shown, (line,), "Definition of the leaching fraction, UF/IFAS EP529", estimate=True)
