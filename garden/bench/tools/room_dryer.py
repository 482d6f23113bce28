"""How much water a dehumidifier must take out of a room."""

from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.climate import COLD_COIL_C, LITRES_PER_US_PINT, Dehumidifier, RatedAt, dehumidifier_size
from garden.bench import fields
from garden.bench.measures import alike
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, maybe, word
from garden.wording import Wording


def _ratings() -> Choices:
    return (("30c-80", _("30 °C (86 °F) and 80 %")), ("27c-60", _("27 °C (80 °F) and 60 %")))


def _rating_line(wording: Wording, size: Dehumidifier) -> str:
    """From the water of a day to the rating, in litres or in the pints of US labels."""
    share = f"1.2 ÷ {wording.number(size.capacity_share, 2)}"
    if wording.system == "us":
        pints = wording.figure(size.moisture_l_d / LITRES_PER_US_PINT)
        return _("%(left)s US pints × %(share)s = %(rated)s US pints a day") % {
            "left": pints,
            "share": share,
            "rated": wording.figure(size.rated_us_pints),
        }
    left, rated = alike(wording, "L", size.rated_l_d, size.moisture_l_d, size.rated_l_d)
    return _("%(left)s × %(share)s = %(rated)s a day") % {"left": left, "share": share, "rated": rated}


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
    facts = [
        (_("Water to take out a day"), wording.volume(size.moisture_l_d)),
        (_("In this air it does, of its rating"), wording.percent(size.capacity_share)),
    ]
    if wording.system != "us":
        facts.append((_("Rating in US pints a day"), wording.number(size.rated_us_pints, 0)))
    poured, lost, left = alike(wording, "L", size.moisture_l_d, given, drained, size.moisture_l_d)
    working = (
        _("given %(given)s − drained %(drained)s = %(left)s a day, which all goes into the air")
        % {"given": poured, "drained": lost, "left": left},
        _rating_line(wording, size),
        _("a fifth on top: common practice; the share in this air: judgement, the maker's table wins"),
    )
    notes = [_("It warms the room by all the electricity it uses.")]
    if size.cold:
        notes.append(
            _("Below %s the coil ices up: ask for one made for cold rooms.")
            % wording.temperature(COLD_COIL_C)
        )
    cautions = (_("Keep it on a dry, earthed socket of its own."),)
    source = sources(
        _("Mass balance; humidity ratio by ASHRAE 2017, chapter 1"), "common practice, no source"
    )
    return Answer(headline, tuple(facts), working, source, cautions, estimate=True, notes=tuple(notes))


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
        # A dehumidifier works in no other air.
        replace(fields.AIR_TEMP, low=5, high=45),
        Field("rh_percent", gettext_lazy("Humidity wanted"), "%", 20, 100, example=60),
        Field("rated_at", gettext_lazy("Its label is for"), choices=_ratings, example="30c-80"),
    ),
    compute,
)
