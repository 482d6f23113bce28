"""Is the air too dry or too damp for this crop?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.air import (
    absolute_humidity_g_m3,
    dew_point_c,
    rh_for_vpd_percent,
    saturation_vapour_pressure_kpa,
    vpd_air_kpa,
    vpd_leaf_kpa,
)
from garden.bench import fields
from garden.bench.measures import degrees, span, vapour
from garden.bench.said import band_or_refuse, crop_said, sources
from garden.bench.tool import Answer, Field, Tool, Values, amount, maybe, word
from garden.figures.vpd_field import VpdBand, VpdLabels, vpd_field
from garden.reference.schema import Band
from garden.wording import Wording


def _verdict(vpd: float, band: Band) -> str:
    if vpd > band.wide_high:
        return _("Much too dry")
    if vpd > band.high:
        return _("On the dry side")
    if vpd < band.wide_low:
        return _("Much too damp")
    return _("On the damp side") if vpd < band.low else _("Just right")


def _picture(wording: Wording, temp: float, rh: float, band: Band, headline: str) -> str:
    us = wording.system == "us"
    labels = VpdLabels(
        temperature=_("Air temperature, °F") if us else _("Air temperature, °C"),
        humidity=_("Relative humidity, %"),
        comfortable=_("comfortable"),
        tolerated=_("tolerated"),
        here=_("this air"),
        too_dry=_("too dry"),
        too_damp=_("too damp"),
        inside=_("inside"),
    )
    field = VpdBand(band.low, band.high, band.wide_low, band.wide_high)
    title = _("Where this air stands")
    return vpd_field(temp, rh, field, title=title, desc=headline, labels=labels, fahrenheit=us)


def compute(values: Values, wording: Wording) -> Answer:
    temp, rh, leaf = amount(values, "air_temp_c"), amount(values, "rh_percent"), maybe(values, "leaf_temp_c")
    crop = word(values, "crop")
    band = band_or_refuse(crop, word(values, "stage"), "vpd_kpa")
    vpd, most = vpd_air_kpa(temp, rh), saturation_vapour_pressure_kpa(temp)
    headline = _("%(verdict)s: VPD %(vpd)s kPa, and %(crop)s likes %(band)s") % {
        "verdict": _verdict(vpd, band),
        "vpd": wording.number(vpd, 2),
        "crop": crop_said(crop),
        "band": span(wording, band.low, band.high, 1, "kPa"),
    }
    wanted = [rh_for_vpd_percent(temp, min(edge, most)) for edge in (band.high, band.low)]
    facts = [
        (_("Humidity to aim for at this temperature"), span(wording, wanted[0], wanted[1], 0, "%")),
        (_("Tolerated"), span(wording, band.wide_low, band.wide_high, 1, "kPa")),
        (_("Water in the air"), vapour(wording, absolute_humidity_g_m3(temp, rh))),
    ]
    if rh > 0.1:
        facts.insert(1, (_("Dew point"), degrees(wording, dew_point_c(temp, rh))))
    if leaf is not None:
        between = vpd_leaf_kpa(temp, rh, leaf)
        facts.insert(1, (_("VPD at the leaf"), _("%s kPa") % wording.number(between, 2)))
    working = (
        _("saturation pressure at %(temp)s: %(most)s kPa")
        % {"temp": degrees(wording, temp), "most": f"{most:.3f}"},
        _("%(most)s kPa × (1 − %(rh)s ÷ 100) = %(vpd)s kPa")
        % {"most": f"{most:.3f}", "rh": f"{rh:.0f}", "vpd": f"{vpd:.2f}"},
        _("humidity for a VPD: 100 × (1 − VPD ÷ saturation pressure)"),
    )
    return Answer(
        headline,
        tuple(facts),
        working,
        sources("ashrae-2017", band.source),
        (),
        _picture(wording, temp, rh, band, headline),
    )


TOOL = Tool(
    "air-dryness",
    gettext_lazy("Is it too dry in here?"),
    gettext_lazy("Humidity, dew point and vapour pressure deficit against what the crop likes."),
    "air",
    (
        fields.AIR_TEMP,
        fields.RH,
        fields.CROP,
        fields.STAGE,
        Field(
            "leaf_temp_c",
            gettext_lazy("Leaf temperature, if measured"),
            "°C",
            -20,
            60,
            example=25,
            optional=True,
            us_unit="°F",
            prefill="leaf_temp_c",
        ),
    ),
    compute,
)
