"""What a meter that shows ppm means in EC, and on the other scales."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.feed import TDS_SCALES, ec_at_25_ms_cm, ec_from_tds_ms_cm, tds_mg_l
from garden.bench.measures import degrees
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, maybe, word
from garden.wording import Wording


def _scales() -> Choices:
    ppm = tuple((scale, _("ppm, %s scale") % scale) for scale in TDS_SCALES)
    return (*ppm, ("ec", _("EC, mS/cm")))


def compute(values: Values, wording: Wording) -> Answer:
    shown, scale, temp = amount(values, "shown"), word(values, "scale"), maybe(values, "water_temp_c")
    if scale == "ec" and shown > 30:
        raise Refused(_("An EC above 30 mS/cm is brine. If the meter shows µS/cm, divide by 1000."), "shown")
    ec = shown if scale == "ec" else ec_from_tds_ms_cm(shown, scale)
    working = [_("1 mS/cm is shown as 500, 640 or 700 ppm, by the meter's scale")]
    if scale != "ec":
        working.append(f"{shown:g} ÷ {scale} = {ec:.2f} mS/cm")
    if temp is not None:
        ec = min(ec_at_25_ms_cm(ec, temp), 30.0)
        working.append(
            _("÷ (1 + 0.0191 × (%(temp)s − %(standard)s)%(per)s) = %(ec)s mS/cm")
            % {
                "temp": degrees(wording, temp),
                "standard": wording.temperature(25.0),
                "per": " ÷ 1.8" if wording.system == "us" else "",
                "ec": f"{ec:.2f}",
            }
        )
    headline = _("EC %s mS/cm") % wording.number(ec, 2)
    if temp is not None:
        headline = _("EC %(ec)s mS/cm at %(temp)s") % {
            "ec": wording.number(ec, 2),
            "temp": wording.temperature(25.0),
        }
    facts = tuple(
        (_("On the %s scale") % other, _("%s ppm") % wording.number(tds_mg_l(ec, other), 0))
        for other in TDS_SCALES
    )
    notes = (_("Ppm of different meters cannot be compared unless the scale is known. Talk in EC."),)
    source = sources(_("Conventions of meters"), "hayashi-2004" if temp is not None else "")
    return Answer(headline, facts, tuple(working), source, notes=notes)


TOOL = Tool(
    "feed-meter",
    gettext_lazy("The meter shows ppm: what EC is that?"),
    gettext_lazy("From one scale to the others, and to 25 °C for a meter that does not do it itself."),
    "feed",
    (
        Field("shown", gettext_lazy("What the meter shows"), None, 0, 21_000, example=980),
        Field("scale", gettext_lazy("It shows"), choices=_scales, example="700"),
        Field(
            "water_temp_c",
            gettext_lazy("Temperature, only if it does not compensate"),
            "°C",
            0,
            45,
            example=25,
            optional=True,
            us_unit="°F",
        ),
    ),
    compute,
)
