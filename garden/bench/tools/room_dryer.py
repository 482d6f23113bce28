"""How much water a dehumidifier must take out of a room."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.climate import RatedAt, dehumidifier_size
from garden.bench import fields
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, maybe, word
from garden.wording import Wording


def _ratings() -> Choices:
    return (("30c-80", _("30 °C and 80 %")), ("27c-60", _("27 °C and 60 %")))


def compute(values: Values, wording: Wording) -> Answer:
    given, drained = amount(values, "given_l_d"), maybe(values, "drained_l_d") or 0.0
    if drained >= given:
        raise Refused(_("More runs off than is poured. Check the two volumes."), "drained_l_d")
    temp, rh = amount(values, "air_temp_c"), amount(values, "rh_percent")
    rated_at: RatedAt = "27c-60" if word(values, "rated_at") == "27c-60" else "30c-80"
    size = dehumidifier_size(given - drained, temp, rh, rated_at=rated_at)
    rated = _("%s litres a day") % wording.significant(size.rated_l_d)
    if wording.system == "us":
        rated = _("%s US pints a day") % wording.number(size.rated_us_pints, 0)
    headline = _("One that is rated at %s or more") % rated
    facts = (
        (_("Water to take out a day"), wording.volume(size.moisture_l_d)),
        (_("In this air it does, of its rating"), wording.percent(size.capacity_share)),
        (_("Rating in US pints a day"), wording.number(size.rated_us_pints, 0)),
    )
    working = (
        _("given %(given)s L − drained %(drained)s L = %(left)s L a day, which all goes into the air")
        % {"given": f"{given:.1f}", "drained": f"{drained:.1f}", "left": f"{size.moisture_l_d:.1f}"},
        _("%(left)s L × 1.2 ÷ %(share)s = %(rated)s L a day")
        % {
            "left": f"{size.moisture_l_d:.1f}",
            "share": f"{size.capacity_share:.2f}",
            "rated": f"{size.rated_l_d:.1f}",
        },
        _("a fifth on top: common practice; the share in this air: judgement, the maker's table wins"),
    )
    notes = [_("It warms the room by all the electricity it uses.")]
    if size.cold:
        notes.append(_("Below 15 °C the coil ices up: ask for one made for cold rooms."))
    cautions = (_("Keep it on a dry, earthed socket of its own."),)
    source = sources(
        _("Mass balance; humidity ratio by ASHRAE 2017, chapter 1"), "common practice, no source"
    )
    return Answer(headline, facts, working, source, cautions, estimate=True, notes=tuple(notes))


TOOL = Tool(
    "room-dryer",
    gettext_lazy("How much must the dryer take?"),
    gettext_lazy("Water that ends in the air each day, and the rating of a dehumidifier for it."),
    "room",
    (
        Field(
            "given_l_d",
            gettext_lazy("Water poured a day, all plants"),
            "L",
            0,
            10_000,
            above=True,
            example=6,
            us_unit="US gal",
            prefill="water_given_l_d",
        ),
        Field(
            "drained_l_d",
            gettext_lazy("Of it runs off"),
            "L",
            0,
            10_000,
            example=1,
            optional=True,
            us_unit="US gal",
        ),
        fields.AIR_TEMP,
        Field("rh_percent", gettext_lazy("Humidity wanted"), "%", 20, 100, example=60),
        Field("rated_at", gettext_lazy("Its label is for"), choices=_ratings, example="30c-80"),
    ),
    compute,
)
