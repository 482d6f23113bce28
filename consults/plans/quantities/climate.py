"""Air and root temperature, humidity."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.cases.facts import Facts
from consults.plans.quantities import Answer, NotKnown, quantity
from consults.plans.quantities.salts import band_or_ask
from garden.agronomy.air import rh_for_vpd_percent
from garden.wording import Wording


def _temperature(facts: Facts, wording: Wording, code: str) -> Answer:
    band = band_or_ask(facts, code)
    shown = wording.temperature(band.low, band.high)
    lines = [_("range of this crop: %(range)s") % {"range": shown}]
    now = facts.value(code)
    if now is not None:
        degrees, _text, sign = wording.reading(now, "°C", 1)
        lines.append(_("measured: %(now)s") % {"now": f"{wording.figure(degrees)} {sign}"})
    return Answer(shown, tuple(lines), facts.cite(band.source))


@quantity("day-temperature-target", gettext_lazy("Air by day"))
def day_temperature(facts: Facts, wording: Wording) -> Answer:
    return _temperature(facts, wording, "air_temp_c")


@quantity("night-temperature-target", gettext_lazy("Air at night"))
def night_temperature(facts: Facts, wording: Wording) -> Answer:
    return _temperature(facts, wording, "night_temp_c")


@quantity("root-temperature-target", gettext_lazy("Root zone"))
def root_temperature(facts: Facts, wording: Wording) -> Answer:
    return _temperature(facts, wording, "root_zone_temp_c")


@quantity("humidity-target", gettext_lazy("Humidity"))
def humidity(facts: Facts, wording: Wording) -> Answer:
    """The relative humidity that gives the crop's VPD at the temperature it has."""
    band, air = band_or_ask(facts, "vpd_kpa"), facts.value("air_temp_c")
    if air is None:
        raise NotKnown(_("Measure the air temperature to work this out."))
    low, high = rh_for_vpd_percent(air, band.high), rh_for_vpd_percent(air, band.low)
    at = wording.temperature(air)
    shown = _("%(low)s to %(high)s relative humidity at %(air)s") % {
        "low": wording.number(low, 0), "high": f"{wording.number(high, 0)} %", "air": at,
    }  # fmt: skip
    line = _("VPD %(low)s to %(high)s kPa at %(air)s: RH = 1 − VPD ÷ saturation pressure") % {
        "low": wording.figure(band.low), "high": wording.figure(band.high), "air": at,
    }  # fmt: skip
    return Answer(shown, (line,), "ASHRAE Fundamentals, psychrometrics; range: " + facts.cite(band.source))


@quantity("vpd-target", gettext_lazy("Vapour pressure deficit"))
def vpd(facts: Facts, wording: Wording) -> Answer:
    band = band_or_ask(facts, "vpd_kpa")
    low, high = wording.figure(band.low), wording.figure(band.high)
    shown = _("%(low)s to %(high)s kPa") % {"low": low, "high": high}
    lines = [_("range of this crop: %(range)s") % {"range": shown}]
    now = facts.value("vpd_kpa")
    if now is not None:
        lines.append(
            _("now: %(now)s kPa, from the air temperature and humidity measured")
            % {"now": wording.number(now, 2)}
        )
    return Answer(shown, tuple(lines), facts.cite(band.source))
