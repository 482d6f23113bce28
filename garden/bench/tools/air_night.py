"""Does it condense when the room cools down at night?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.air import CLOSE_TO_DEW_C, cooled_by
from garden.bench import fields
from garden.bench.measures import degrees, difference, vapour
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Refused, Tool, Values, amount
from garden.wording import Wording


def compute(values: Values, wording: Wording) -> Answer:
    temp, rh = amount(values, "air_temp_c"), amount(values, "rh_percent")
    night = amount(values, "night_temp_c")
    if night > temp:
        raise Refused(
            _("The night is warmer than the day here. Enter the coldest of the night."), "night_temp_c"
        )
    cooled = cooled_by(temp, rh, temp - night)
    words = {
        "wet": _("Yes: water condenses below %(dew)s, and it gets %(margin)s colder than that"),
        "close": _("Nearly: only %(margin)s above the dew point of %(dew)s; cold panes and corners get wet"),
        "dry": _("No: the night stays %(margin)s above the dew point of %(dew)s"),
    }
    headline = words[cooled.wetness] % {
        "dew": degrees(wording, cooled.dew_point_c),
        "margin": difference(wording, abs(cooled.margin_c)),
    }
    facts = [
        (_("Dew point of the evening air"), degrees(wording, cooled.dew_point_c)),
        (_("Humidity at the coldest"), _("%s %%") % wording.number(cooled.rh_percent, 0)),
    ]
    if cooled.condensed_g_m3 > 0:
        facts.append((_("Water that falls out of the air"), vapour(wording, cooled.condensed_g_m3)))
    working = (
        _("dew point of %(temp)s and %(rh)s %%: %(dew)s")
        % {"temp": degrees(wording, temp), "rh": f"{rh:.0f}", "dew": degrees(wording, cooled.dew_point_c)},
        _("coldest %(night)s − dew point %(dew)s = %(margin)s")
        % {
            "night": degrees(wording, night),
            "dew": degrees(wording, cooled.dew_point_c),
            "margin": difference(wording, cooled.margin_c),
        },
        _("no water is added or taken out while it cools; “nearly” is within %(near)s: common practice")
        % {"near": difference(wording, CLOSE_TO_DEW_C)},
    )
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    if cooled.wetness != "dry":
        notes = (_("Wet leaves overnight invite grey mould and mildew."),)
        cautions = (_("Keep drips away from lamps and plugs."),)
    return Answer(headline, tuple(facts), working, sources("ashrae-2017"), cautions, notes=notes)


TOOL = Tool(
    "air-night",
    gettext_lazy("Is it condensing at night?"),
    gettext_lazy("What happens to the evening's air when the lamps go off and the room cools."),
    "air",
    (
        fields.AIR_TEMP,
        fields.RH,
        Field(
            "night_temp_c",
            gettext_lazy("Coldest at night, or of a cold pane"),
            "°C",
            -20,
            60,
            example=13,
            us_unit="°F",
            prefill="night_temp_c",
        ),
    ),
    compute,
)
