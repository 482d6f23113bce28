"""How humid to keep seeds, cuttings and grafts."""

from typing import cast

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.air import vpd_air_kpa
from garden.agronomy.propagation import Method, Phase, propagation_humidity, propagation_vpd_kpa
from garden.bench.measures import degrees, span
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Tool, Values, amount, maybe, word
from garden.figures.vpd_field import VpdBand, VpdLabels, vpd_field
from garden.wording import Wording


def _methods() -> Choices:
    return (
        ("dome", _("cuttings under a dome")),
        ("mist", _("cuttings under mist")),
        ("covered-seeds", _("seeds, covered")),
        ("open-seeds", _("seeds, open")),
        ("grafting", _("grafts")),
    )


def _phases() -> Choices:
    return (
        ("start", _("just begun: until it sprouts, calluses or joins")),
        ("rooting", _("rooting: until roots carry it")),
        ("hardening", _("hardening: the last days")),
    )


def _picture(wording: Wording, temp: float, now: float | None, band: VpdBand, headline: str) -> str:
    us = wording.system == "us"
    labels = VpdLabels(
        _("Air temperature, °F") if us else _("Air temperature, °C"),
        _("Relative humidity, %"),
        _("wanted"),
        _("tolerated"),
        _("this air"),
        _("too dry"),
        _("too damp"),
        _("inside"),
    )
    return vpd_field(
        temp if now is not None else None,
        now,
        band,
        title=_("Where this air stands"),
        desc=headline,
        labels=labels,
        fahrenheit=us,
    )


def compute(values: Values, wording: Wording) -> Answer:
    method, phase = cast(Method, word(values, "method")), cast(Phase, word(values, "phase"))
    temp, now = amount(values, "air_temp_c"), maybe(values, "rh_percent")
    band = propagation_humidity(method, phase)
    low, high = propagation_vpd_kpa(method, phase, temp)
    wanted = span(wording, band.low_percent, band.high_percent, 0, "%")
    headline = _("Keep it at %s") % wanted
    if now is not None:
        words = (
            _("Too dry: keep it at %s")
            if now < band.low_percent
            else _("Too damp: keep it at %s")
            if now > band.high_percent
            else _("Just right: keep it at %s")
        )
        headline = words % wanted
    facts = [(_("VPD that belongs to it"), span(wording, low, high, 2, "kPa"))]
    if now is not None:
        facts.insert(0, (_("VPD now"), _("%s kPa") % wording.number(vpd_air_kpa(temp, now), 2)))
    line = _("at %(temp)s: saturation pressure × (1 − RH ÷ 100) = %(low)s to %(high)s kPa") % {
        "temp": degrees(wording, temp),
        "low": f"{low:.2f}",
        "high": f"{high:.2f}",
    }
    notes = (
        _("Lift the lid a little every day: wet, still air brings mould. Keep heat mats and plugs dry."),
    )
    picture = _picture(wording, temp, now, VpdBand(low, high), headline)
    source = sources("common practice, no source", _("VPD by ASHRAE 2017, chapter 1"))
    return Answer(headline, tuple(facts), (line,), source, (), picture, notes=notes)


TOOL = Tool(
    "young-humidity",
    gettext_lazy("How humid for cuttings?"),
    gettext_lazy("Humidity for seeds, cuttings and grafts, from the first day to hardening off."),
    "young",
    (
        Field("method", gettext_lazy("How they are raised"), choices=_methods, example="dome"),
        Field("phase", gettext_lazy("How far they are"), choices=_phases, example="rooting"),
        Field(
            "air_temp_c",
            gettext_lazy("Air temperature"),
            "°C",
            5,
            40,
            example=24,
            us_unit="°F",
            prefill="air_temp_c",
        ),
        Field(
            "rh_percent",
            gettext_lazy("Humidity now"),
            "%",
            0,
            100,
            example=70,
            optional=True,
            prefill="rh_percent",
        ),
    ),
    compute,
)
