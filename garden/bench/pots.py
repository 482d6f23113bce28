"""The pot and what its plant uses in a day: what the watering tools share."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.container import water_at_height
from garden.agronomy.transpiration import daily_transpiration_l_m2
from garden.agronomy.units import display
from garden.agronomy.watering import available_water_l, daily_water_use_l, water_held_l
from garden.bench import fields
from garden.bench.measures import alike, degrees
from garden.bench.tool import Field, Refused, Values, amount, maybe, word
from garden.reference.loader import load_reference
from garden.reference.schema import Medium
from garden.wording import Wording

# Share of its place that a plant's leaves cover; judgement.
COVER_BY_STAGE: Mapping[str, float] = {
    "germination": 0.1,
    "cutting": 0.2,
    "seedling": 0.2,
    "young-plant": 0.5,
    "vegetative": 0.8,
    "flowering": 0.9,
    "fruiting": 0.9,
}
DEPLETION = 0.5  # share of the available water used before the next watering; common practice, no source

AREA = Field(
    "plant_area_m2",
    gettext_lazy("Ground that one plant covers or may cover"),
    "m²",
    0,
    100,
    above=True,
    example=0.09,
    us_unit="ft²",
    prefill="plant_area_m2",
    help=gettext_lazy("Length times width of its place, about 0.09 m² or 1 ft² for a basil pot."),
)
COVER = Field(
    "cover_percent",
    gettext_lazy("Covered by leaves"),
    "%",
    0,
    100,
    above=True,
    example=80,
    optional=True,
    prefill="cover_percent",
    help=gettext_lazy("80 % when left empty."),
)
HEIGHT = Field(
    "pot_height_m",
    gettext_lazy("Height of the medium"),
    "m",
    0.01,
    1,
    example=0.16,
    optional=True,
    metric_unit="cm",
    us_unit="in",
    help=gettext_lazy("A tall pot drains further. Left empty, usual figures stand."),
)
POT = (fields.CONTAINER, fields.MEDIUM, HEIGHT)
# What the reckoning of evaporation takes; outside it nothing grows.
USE_TEMP = replace(fields.AIR_TEMP, low=5, high=45)
USE = (fields.PPFD, fields.HOURS, USE_TEMP, fields.RH, AREA, COVER)
USE_SOURCE = (
    "Allen, Pereira, Raes and Smith (1998): FAO-56 equation 6, slow indoor air; "
    "second way: Graamans and others 2017, Agricultural Systems 153:138-147"
)
HALF_SOURCE = gettext_lazy("half the water used before the next: common practice, no source")


@dataclass(frozen=True)
class Pot:
    """Shares of the medium's volume and litres in one drained pot."""

    medium: Medium
    litres: float
    capacity: float
    available: float
    held_l: float
    stock_l: float


@dataclass(frozen=True)
class DailyUse:
    """Litres a day of one plant, reckoned in two ways; the first is used."""

    litres: float
    second_l: float
    lines: tuple[str, ...]


def pot_of(values: Values) -> Pot:
    """The pot of the inputs; raises Refused for a medium that holds no water."""
    medium = load_reference().media[word(values, "medium")]
    capacity, available, air = medium.container_capacity, medium.available_water, medium.air_space
    if not capacity or not available or not air:
        raise Refused(_("This medium holds no water between waterings. Choose another."), "medium")
    height = maybe(values, "pot_height_m")
    if height is not None:
        shares = water_at_height(capacity, air, available, height)
        capacity, available = shares.container_capacity, shares.available_water
    litres = amount(values, "container_l")
    return Pot(
        medium,
        litres,
        capacity,
        available,
        water_held_l(litres, capacity),
        available_water_l(litres, available),
    )


def use_of(values: Values, wording: Wording) -> DailyUse:
    """What one plant uses in a day; raises Refused when that is next to nothing."""
    ppfd, hours = amount(values, "ppfd_umol_m2_s"), amount(values, "hours")
    temp, rh = amount(values, "air_temp_c"), amount(values, "rh_percent")
    area, cover = amount(values, "plant_area_m2"), (maybe(values, "cover_percent") or 80.0) / 100
    litres = daily_water_use_l(ppfd, hours, area, cover, temp, rh)
    if litres < 0.001:
        raise Refused(_("With so little light the plant uses next to nothing; weigh the pot instead."))
    second = daily_transpiration_l_m2(ppfd, hours, temp, rh) * area * cover
    first_said, second_said = alike(wording, "L", litres, litres, second)
    words = {
        "ppfd": f"{ppfd:.0f}",
        "hours": f"{hours:g}",
        "temp": degrees(wording, temp),
        "rh": f"{rh:.0f}",
        "area": alike(wording, "m²", area, area)[0],
        "cover": f"{cover:.2f}",
        "first": first_said,
        "second": second_said,
    }
    lines = (
        _(
            "used a day, from %(ppfd)s µmol/m²/s for %(hours)s h, %(temp)s and %(rh)s %% "
            "over %(area)s × %(cover)s: %(first)s"
        )
        % words,
        _("a second way, by the leaves of a grown lettuce canopy: %(second)s") % words,
    )
    return DailyUse(litres, second, lines)


def far_apart(wording: Wording, use: DailyUse) -> tuple[str, ...]:
    """A note where the two ways of reckoning differ by half or more."""
    ratio = max(use.second_l, use.litres) / max(min(use.second_l, use.litres), 1e-9)
    if ratio < 1.5:
        return ()
    return (
        _("Two ways of reckoning the plant's use differ %(times)s-fold here. Weigh the pot for a day.")
        % {"times": wording.number(ratio, 1)},
    )


def pot_line(pot: Pot, wording: Wording, use: DailyUse) -> str:
    """How the water that the plant can take up was reckoned, in the unit in which its use is said."""
    whole, stock = alike(wording, "L", use.litres, pot.litres, pot.stock_l)
    return _("water the plant can take up: %(pot)s × %(share)s = %(stock)s") % {
        "pot": whole,
        "share": f"{pot.available:.2f}",
        "stock": stock,
    }


@dataclass(frozen=True)
class DryingScale:
    """The unit in which a dry-down is drawn, and how many of it make a litre."""

    label: str
    per_litre: float


def drying_scale(pot: Pot, wording: Wording) -> DryingScale:
    """The axis of the water left in a pot, in the unit that suits what the pot holds."""
    shown, unit = display(pot.stock_l, "L", wording.system)
    return DryingScale(_("Water left in the pot, %s") % unit, shown / pot.stock_l)
