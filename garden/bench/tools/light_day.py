"""How much light is that in a day, from a quantum meter, a lux meter or foot-candles?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.light import (
    LUX_UNCERTAINTY,
    PpfdRange,
    dli_mol_m2_d,
    foot_candles_to_lux,
    hours_for_dli_h,
    judge_dli,
    light_change,
    lux_to_ppfd_range,
)
from garden.bench import fields
from garden.bench.measures import span
from garden.bench.said import band_or_refuse, crop_said, said, sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, word
from garden.figures.bands import BandLabels, BandRow, band_figure
from garden.reference.loader import load_reference
from garden.reference.schema import Band
from garden.wording import Wording


def _meters() -> Choices:
    return (("ppfd", _("µmol/m²/s")), ("lux", _("lux")), ("fc", _("foot-candles")))


def _light(values: Values) -> tuple[PpfdRange, list[str], str]:
    """The light with its range, how it came about, and the source."""
    shown, meter = amount(values, "meter_value"), word(values, "meter")
    if meter == "ppfd":
        if shown > 3000:
            raise Refused(
                _("No light is above 3000 µmol/m²/s. If the meter shows lux, choose that."), "meter_value"
            )
        return PpfdRange(shown, shown, shown), [], ""
    code = word(values, "lamp_type")
    lamp = load_reference().lamps[code]
    if lamp.lux_per_umol is None:
        raise Refused(
            _("Lux of this lamp cannot be turned into light for plants. Measure it with a quantum meter."),
            "lamp_type",
        )
    lines = []
    lux = shown
    if meter == "fc":
        lux = foot_candles_to_lux(shown)
        lines.append(
            _("%(fc)s foot-candles × 10.76 = %(lux)s lux") % {"fc": f"{shown:.0f}", "lux": f"{lux:.0f}"}
        )
    found = lux_to_ppfd_range(lux, lamp.lux_per_umol, LUX_UNCERTAINTY.get(code, 0.1))
    line = _("%(lux)s lux ÷ %(factor)s (%(lamp)s) = %(ppfd)s, between %(low)s and %(high)s") % {
        "lux": f"{lux:.0f}",
        "factor": f"{lamp.lux_per_umol:g}",
        "lamp": said(lamp.name),
        "ppfd": f"{found.ppfd_umol_m2_s:.0f}",
        "low": f"{found.low_umol_m2_s:.0f}",
        "high": f"{found.high_umol_m2_s:.0f}",
    }
    return found, [*lines, line], lamp.lux_source or ""


def _picture(wording: Wording, dli: float, band: Band, headline: str) -> str:
    labels = BandLabels(
        inside=_("inside"),
        above=_("above"),
        below=_("below"),
        no_band=_("no limits"),
        comfortable=_("comfortable"),
        tolerated=_("tolerated"),
        last_time=_("last time"),
    )
    row = BandRow(
        _("Light in a day"),
        wording.number(dli, 1),
        "mol/m²/d",
        dli,
        band.low,
        band.high,
        band.wide_low,
        band.wide_high,
        span(wording, band.low, band.high, 0),
        "above" if dli > band.high else "below" if dli < band.low else "inside",
    )
    return band_figure([row], title=headline, labels=labels, narrow=True)


def _ways(wording: Wording, light: PpfdRange, hours: float, band: Band) -> list[tuple[str, str]]:
    """What would bring the day into the band, where it is not."""
    dli = dli_mol_m2_d(light.ppfd_umol_m2_s, hours)
    target = min(max(dli, band.low), band.high)
    if target == dli or target <= 0 or target > 3000 * hours * 0.0036:
        return []
    change = light_change(light.ppfd_umol_m2_s, hours, target)
    ways = [(_("With these hours, light wanted"), wording.light(change.target_ppfd_umol_m2_s))]
    if change.hours is not None:
        ways.insert(
            0,
            (
                _("With this light, hours wanted"),
                wording.hours(hours_for_dli_h(target, light.ppfd_umol_m2_s)),
            ),
        )
    return ways


def compute(values: Values, wording: Wording) -> Answer:
    light, lines, source = _light(values)
    hours, crop = amount(values, "hours"), word(values, "crop")
    band = band_or_refuse(crop, word(values, "stage"), "dli_mol_m2_d")
    dli = dli_mol_m2_d(light.ppfd_umol_m2_s, hours)
    low, high = (dli_mol_m2_d(min(end, 3000), hours) for end in (light.low_umol_m2_s, light.high_umol_m2_s))
    words = {
        "far-below": _("far too little"),
        "below": _("rather little"),
        "inside": _("right"),
        "above": _("rather much"),
        "far-above": _("far too much"),
        "no-band": _("no limits known"),
    }
    verdict = judge_dli(min(dli, 100), band.low, band.high, band.wide_low, band.wide_high)
    headline = _("%(dli)s mol/m² a day: %(verdict)s for %(crop)s") % {
        "dli": wording.number(dli, 1),
        "verdict": words[verdict],
        "crop": crop_said(crop),
    }
    facts = [(_("The crop likes"), span(wording, band.low, band.high, 1, "mol/m²/d"))]
    if lines:
        facts.append(
            (
                _("Light at the leaves"),
                _("%s µmol/m²/s") % span(wording, light.low_umol_m2_s, light.high_umol_m2_s, 0),
            )
        )
        facts.append((_("So a day may be"), span(wording, low, high, 1, "mol/m²/d")))
    facts += _ways(wording, light, hours, band)
    lines.append(
        _("%(ppfd)s µmol/m²/s × %(hours)s h × 0.0036 = %(dli)s mol/m²/d")
        % {"ppfd": f"{light.ppfd_umol_m2_s:.0f}", "hours": f"{hours:g}", "dli": f"{dli:.1f}"}
    )
    said_source = sources(_("Definition of the daily light integral"), source, band.source)
    picture = _picture(wording, dli, band, headline)
    return Answer(headline, tuple(facts), tuple(lines), said_source, (), picture, estimate=len(lines) > 1)


TOOL = Tool(
    "light-day",
    gettext_lazy("How much light is that a day?"),
    gettext_lazy("The day's light from a quantum meter, lux or foot-candles, and the hours it wants."),
    "light",
    (
        Field(
            "meter_value",
            gettext_lazy("What the meter shows"),
            None,
            0,
            200_000,
            above=True,
            example=300,
            prefill="ppfd_umol_m2_s",
        ),
        Field("meter", gettext_lazy("It shows"), choices=_meters, example="ppfd"),
        fields.HOURS,
        fields.LAMP_TYPE,
        fields.CROP,
        fields.STAGE,
    ),
    compute,
)
