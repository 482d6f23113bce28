"""Temperature against humidity, with the area shaded in which the air is neither too dry nor too damp."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from garden.agronomy.air import rh_for_vpd_percent, saturation_vapour_pressure_kpa, vpd_air_kpa
from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, shape, text_width, write

# About as wide as a phone shows it, so that its letters stay as large as those beside it.
_WIDTH, _HEIGHT = 360.0, 330.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 38.0, 14.0, 308.0, 248.0
_COLDEST, _WARMEST, _DRIEST = 10.0, 36.0, 20.0
_LINES_KPA = (0.4, 0.8, 1.2, 1.6, 2.0, 3.0)
_STEPS = 26


@dataclass(frozen=True)
class VpdBand:
    """Deficits in kPa: comfortable from `low` to `high`, tolerated from `wide_low` to `wide_high`."""

    low: float
    high: float
    wide_low: float | None = None
    wide_high: float | None = None


@dataclass(frozen=True)
class VpdLabels:
    """The words of the figure in the reader's language."""

    temperature: str
    humidity: str
    comfortable: str
    tolerated: str
    here: str
    too_dry: str
    too_damp: str
    inside: str


def vpd_field(
    temp_c: float | None, rh_percent: float | None, band: VpdBand | None, *, title: str, desc: str,
    labels: VpdLabels, fahrenheit: bool = False, palette: Palette = PAPER, key: str = "", font: str = "",
) -> str:  # fmt: skip
    """The field from 10 to 36 °C and 20 to 100 %, with lines of equal deficit and the garden's point.

    temp_c, rh_percent: the garden's air, None where unknown; a point outside the field is drawn at its
    edge. band: in kPa; None draws no area. title, desc: must say point, deficit and verdict in words.
    The mark's shape tells the verdict: a triangle up is too dry, down too damp, a circle inside.
    fahrenheit: the temperatures along the edge are in °F; the label must say so.
    key, font: see `svg.frame`. Raises nothing.
    """
    svg = frame("vpd", _WIDTH, _HEIGHT, title, desc, key=key, font=font)
    shape(
        svg, "rect", "fig-ground", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=_BOTTOM - _TOP,
        fill=palette.ground, stroke=palette.line, stroke_width=1,
    )  # fmt: skip
    if band is not None:
        _draw_band(svg, band, palette)
    _draw_lines(svg, palette)
    _draw_axes(svg, labels, palette, fahrenheit)
    temp, humidity = finite(temp_c), finite(rh_percent)
    marked = temp is not None and humidity is not None
    if temp is not None and humidity is not None:
        _draw_mark(svg, temp, humidity, band, palette)
    _draw_legend(svg, labels, palette, band=band, marked=marked)
    return finish(svg)


def _x(temp_c: float) -> float:
    place = (min(max(temp_c, _COLDEST), _WARMEST) - _COLDEST) / (_WARMEST - _COLDEST)
    return _LEFT + place * (_RIGHT - _LEFT)


def _y(rh_percent: float) -> float:
    place = (min(max(rh_percent, _DRIEST), 100.0) - _DRIEST) / (100.0 - _DRIEST)
    return _BOTTOM - place * (_BOTTOM - _TOP)


def _temperatures() -> list[float]:
    return [_COLDEST + (_WARMEST - _COLDEST) * step / _STEPS for step in range(_STEPS + 1)]


def _humidity(temp_c: float, vpd_kpa: float) -> float:
    """Humidity in % at which the air has this deficit; below zero counts as dry, above all as damp."""
    return rh_for_vpd_percent(temp_c, min(max(vpd_kpa, 0.0), saturation_vapour_pressure_kpa(temp_c)))


def _draw_band(svg: ET.Element, band: VpdBand, palette: Palette) -> None:
    wide = (finite(band.wide_low), finite(band.wide_high))
    low, high = finite(band.low), finite(band.high)
    if low is None or high is None:
        return
    areas: Sequence[tuple[str, float, float, dict[str, str | float]]] = (
        (
            "fig-wide", low if wide[0] is None else wide[0], high if wide[1] is None else wide[1],
            {"fill": palette.wide, "stroke": palette.line, "stroke_width": 0.8, "stroke_dasharray": "3 3"},
        ),
        ("fig-narrow", low, high, {"fill": palette.narrow, "stroke": palette.ink, "stroke_width": 0.9}),
    )  # fmt: skip
    for css_class, damp, dry, paint in areas:
        edge = [(_x(temp), _y(_humidity(temp, damp))) for temp in _temperatures()]
        edge += [(_x(temp), _y(_humidity(temp, dry))) for temp in reversed(_temperatures())]
        points = " ".join(f"{x:.2f},{y:.2f}" for x, y in edge)
        shape(svg, "polygon", css_class, points=points, **paint)


def _draw_lines(svg: ET.Element, palette: Palette) -> None:
    for deficit in _LINES_KPA:
        places = [(temp, _humidity(temp, deficit)) for temp in _temperatures()]
        shown = [(_x(temp), _y(humidity)) for temp, humidity in places if humidity >= _DRIEST]
        if len(shown) < 2:
            continue
        path = "L".join(f"{x:.2f} {y:.2f}" for x, y in shown)
        shape(
            svg, "path", "fig-rule", d=f"M{path}", fill="none", stroke=palette.line, stroke_width=0.7,
        )  # fmt: skip
        x, y = shown[-1]
        write(svg, x + 5, y + 4, f"{deficit:g} kPa", fill=palette.quiet, size=10.5)


def _draw_axes(svg: ET.Element, labels: VpdLabels, palette: Palette, fahrenheit: bool) -> None:
    degrees = (
        [(t, (t - 32) / 1.8) for t in range(50, 97, 10)] if fahrenheit else [(t, t) for t in range(10, 37, 5)]
    )
    for shown, temp in degrees:
        shape(
            svg, "line", "fig-tick", x1=_x(temp), y1=_BOTTOM, x2=_x(temp), y2=_BOTTOM + 4,
            stroke=palette.line, stroke_width=0.8,
        )  # fmt: skip
        write(svg, _x(temp), _BOTTOM + 16, f"{shown}", fill=palette.ink, size=11, anchor="middle")
    for humidity in range(20, 101, 20):
        shape(
            svg, "line", "fig-tick", x1=_LEFT - 4, y1=_y(humidity), x2=_LEFT, y2=_y(humidity),
            stroke=palette.line, stroke_width=0.8,
        )  # fmt: skip
        write(svg, _LEFT - 8, _y(humidity) + 4, f"{humidity}", fill=palette.ink, size=11, anchor="end")
    for text in fit(labels.temperature, _RIGHT - _LEFT, 11, 1):
        write(svg, (_LEFT + _RIGHT) / 2, _BOTTOM + 32, text, fill=palette.quiet, size=11, anchor="middle")
    for text in fit(labels.humidity, _RIGHT - _LEFT - 12, 11, 1):
        write(svg, _LEFT + 6, _TOP + 14, text, fill=palette.quiet, size=11)


def _draw_mark(
    svg: ET.Element, temp_c: float, rh_percent: float, band: VpdBand | None, palette: Palette
) -> None:
    x = min(max(_x(temp_c), _LEFT + 8), _RIGHT - 8)
    y = min(max(_y(rh_percent), _TOP + 8), _BOTTOM - 8)
    place = _verdict(temp_c, rh_percent, band)
    paint: dict[str, str | float] = {
        "fill": palette.mark, "stroke": palette.ground, "stroke_width": 1.5,
    }  # fmt: skip
    if place == "inside":
        shape(svg, "circle", "fig-mark fig-inside", cx=x, cy=y, r=6, **paint)
        return
    tip, foot = (y - 7, y + 6) if place == "above" else (y + 7, y - 6)
    points = f"{x - 7:.2f},{foot:.2f} {x + 7:.2f},{foot:.2f} {x:.2f},{tip:.2f}"
    shape(svg, "polygon", f"fig-mark fig-{place}", points=points, **paint)


def _verdict(temp_c: float, rh_percent: float, band: VpdBand | None) -> str:
    low, high = (finite(band.low), finite(band.high)) if band is not None else (None, None)
    deficit = vpd_air_kpa(min(max(temp_c, -20.0), 60.0), min(max(rh_percent, 0.0), 100.0))
    if low is not None and deficit < low:
        return "below"
    return "above" if high is not None and deficit > high else "inside"


def _draw_legend(
    svg: ET.Element, labels: VpdLabels, palette: Palette, *, band: VpdBand | None, marked: bool
) -> None:
    x, y = _LEFT, _BOTTOM + 52
    items: list[tuple[str, str]] = []
    if band is not None:
        items += [("fig-narrow", labels.comfortable), ("fig-wide", labels.tolerated)]
    for css_class, word in items:
        dashes: dict[str, str | float] = {"stroke_dasharray": "3 3"} if css_class == "fig-wide" else {}
        shape(
            svg, "rect", css_class, x=x, y=y - 6, width=18, height=12,
            fill=palette.narrow if css_class == "fig-narrow" else palette.wide,
            stroke=palette.ink, stroke_width=0.9, **dashes,
        )  # fmt: skip
        for text in fit(word, 150, 11, 1):
            write(svg, x + 24, y + 4, text, fill=palette.quiet, size=11)
            x += 24 + text_width(text, 11) + 14
    if marked and x < _WIDTH - 60:
        shape(svg, "circle", "fig-key", cx=x + 6, cy=y, r=5, fill=palette.mark)
        for text in fit(labels.here, _WIDTH - x - 20, 11, 1):
            write(svg, x + 16, y + 4, text, fill=palette.quiet, size=11)
    said = f"▲ {labels.too_dry}   ● {labels.inside}   ▼ {labels.too_damp}"
    if band is not None and marked:
        for text in fit(said, _WIDTH - _LEFT - 4, 11, 1):
            write(svg, _LEFT, y + 22, text, fill=palette.quiet, size=11)
