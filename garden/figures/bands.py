"""Readings on their bands: where a value lies within what its crop likes and what it tolerates.

Each reading has its own scale, made from its own limits, so that pH and light can stand under one another.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, hatch, shape, text_width, write


@dataclass(frozen=True)
class _Layout:
    """Where a row has its strip. Stacked: name and value stand above it, not beside it."""

    width: float
    strip_x: float
    strip_width: float
    row: float
    stacked: bool = False

    @property
    def value_x(self) -> float:
        return self.strip_x + self.strip_width + 14


_WIDE = _Layout(640.0, 178.0, 262.0, 30.0)
_NARROW = _Layout(360.0, 2.0, 204.0, 46.0, stacked=True)
Verdict = Literal["below", "inside", "above", "no-band"]

_REACH = 8.0  # half the width of a mark: a mark stays whole inside the strip
_BOLD = 1.12  # how much wider bold letters run


@dataclass(frozen=True)
class BandRow:
    """One reading: its texts in the reader's language, its numbers all in one unit, None where unknown."""

    name: str
    shown: str
    unit: str
    value: float | None
    low: float | None = None
    high: float | None = None
    wide_low: float | None = None
    wide_high: float | None = None
    band_shown: str = ""
    verdict: Verdict = "no-band"
    previous: float | None = None


@dataclass(frozen=True)
class BandLabels:
    """The words of a band figure in the reader's language."""

    inside: str
    above: str
    below: str
    no_band: str
    comfortable: str
    tolerated: str
    last_time: str

    def word(self, verdict: str) -> str:
        """The word for a verdict; the one for "no band" when the verdict is unknown."""
        return {"inside": self.inside, "above": self.above, "below": self.below}.get(verdict, self.no_band)


@dataclass(frozen=True)
class _Scale:
    """Values to 0..1 along a strip. `narrow` and `wide` are areas, open sides already at the ends."""

    start: float
    end: float
    narrow: tuple[float, float]
    wide: tuple[float, float]

    def at(self, value: float) -> float:
        return min(max((value - self.start) / (self.end - self.start), 0.0), 1.0)


def _scale(
    low: float | None, high: float | None, wide_low: float | None, wide_high: float | None
) -> _Scale | None:
    """None without any limit. A missing tolerated limit counts as equal to the comfortable one."""
    low, high, wide_low, wide_high = (finite(edge) for edge in (low, high, wide_low, wide_high))
    lows = [edge for edge in (low, wide_low) if edge is not None]
    highs = [edge for edge in (high, wide_high) if edge is not None]
    if not lows and not highs:
        return None
    first, last = min(lows + highs), max(lows + highs)
    span = (last - first) if lows and highs and last > first else max(last - first, abs(last) / 2, 1e-9)
    start = first - (0.3 if lows else 1.5) * span
    end = last + (0.3 if highs else 1.5) * span
    if end <= start:  # limits so small or so close that floats cannot tell them apart
        start, end = first - 1.0, last + 1.0
    narrow = (_or(low, wide_low, start), _or(high, wide_high, end))
    wide = (min([*lows, narrow[0]]) if lows else start, max([*highs, narrow[1]]) if highs else end)
    return _Scale(start, end, narrow, wide)


def _or(first: float | None, second: float | None, third: float) -> float:
    return first if first is not None else second if second is not None else third


def _verdict(value: float, low: float | None, high: float | None) -> Verdict:
    low, high = finite(low), finite(high)
    if low is None and high is None:
        return "no-band"
    if low is not None and value < low:
        return "below"
    return "above" if high is not None and value > high else "inside"


def _draw_mark(
    svg: ET.Element, x: float, y: float, verdict: str, css_class: str, paint: dict[str, str | float]
) -> None:
    if verdict == "above":
        points = f"{x - 7:.2f},{y + 6:.2f} {x + 7:.2f},{y + 6:.2f} {x:.2f},{y - 7:.2f}"
        shape(svg, "polygon", f"{css_class} fig-above", points=points, **paint)
    elif verdict == "below":
        points = f"{x - 7:.2f},{y - 6:.2f} {x + 7:.2f},{y - 6:.2f} {x:.2f},{y + 7:.2f}"
        shape(svg, "polygon", f"{css_class} fig-below", points=points, **paint)
    else:
        shape(svg, "circle", f"{css_class} fig-inside", cx=x, cy=y, r=5.5, **paint)


def _draw_strip(svg: ET.Element, scale: _Scale, x: float, y: float, width: float, palette: Palette) -> None:
    """The track, the tolerated area (hatched) and the comfortable one (full, taller), around the line `y`."""
    shape(svg, "line", "fig-track", x1=x, y1=y, x2=x + width, y2=y, stroke=palette.line, stroke_width=0.75)
    left, right = sorted(x + width * scale.at(edge) for edge in scale.wide)
    shape(
        svg, "rect", "fig-wide",
        x=left, y=y - 6, width=right - left, height=12,
        fill=palette.wide, stroke=palette.line, stroke_width=0.6,
    )  # fmt: skip
    hatch(svg, "fig-hatch", left, y - 6, right - left, 12, palette.line)
    left, right = sorted(x + width * scale.at(edge) for edge in scale.narrow)
    shape(
        svg, "rect", "fig-narrow",
        x=left, y=y - 8, width=right - left, height=16,
        fill=palette.narrow, stroke=palette.ink, stroke_width=0.9,
    )  # fmt: skip


def _place(scale: _Scale, value: float, x: float, width: float) -> float:
    return min(max(x + width * scale.at(value), x + _REACH), x + width - _REACH)


def _draw_marks(
    svg: ET.Element, scale: _Scale, row: BandRow, x: float, y: float, width: float, palette: Palette
) -> None:
    value, previous = finite(row.value), finite(row.previous)
    if previous is not None:
        was = _verdict(previous, row.low, row.high)
        paint: dict[str, str | float] = {
            "fill": palette.ground, "fill_opacity": 0.85, "stroke": palette.ghost, "stroke_width": 1.5,
        }  # fmt: skip
        _draw_mark(svg, _place(scale, previous, x, width), y, was, "fig-ghost", paint)
    if value is not None:
        paint = {"fill": palette.mark, "stroke": palette.ground, "stroke_width": 1.4}
        _draw_mark(svg, _place(scale, value, x, width), y, row.verdict, "fig-mark", paint)


def describe_bands(rows: Sequence[BandRow], labels: BandLabels) -> str:
    """What a band figure shows, in words: one sentence for each reading."""
    said = []
    for row in rows:
        value = " ".join(part for part in (row.shown, row.unit) if part)
        parts = [f"{row.name}: {value}" if value else row.name, labels.word(row.verdict)]
        if row.band_shown:
            parts.append(f"{labels.comfortable} {row.band_shown}")
        said.append(", ".join(parts) + ".")
    return " ".join(said)


def band_figure(
    rows: Sequence[BandRow], *, title: str, labels: BandLabels, palette: Palette = PAPER, key: str = "",
    font: str = "", narrow: bool = False,
) -> str:  # fmt: skip
    """A figure with one strip for each reading, name to the left, value and band to the right.

    rows: readings in the order to show them; numbers of a row share one unit, any finite value (a mark
    beyond the strip stands at its end). A row without limits shows its value and the word for "no band".
    title: the figure's accessible name. labels: its words. narrow: for a phone, name and value above the
    strip, so that nothing lies outside the screen. key, font: see `svg.frame`. Raises nothing.
    """
    layout = _NARROW if narrow else _WIDE
    legend_lines = 2 if any(row.previous is not None for row in rows) else 1
    height = len(rows) * layout.row + 4 + 20 * legend_lines
    svg = frame("bands", layout.width, height, title, describe_bands(rows, labels), key=key, font=font)
    for index, row in enumerate(rows):
        _draw_row(svg, row, index * layout.row, labels, palette, layout)
    _draw_legend(svg, len(rows) * layout.row + 16, labels, palette, layout, ghost=legend_lines == 2)
    return finish(svg)


def _draw_row(
    svg: ET.Element, row: BandRow, top: float, labels: BandLabels, palette: Palette, layout: _Layout
) -> None:
    middle = top + (32.0 if layout.stacked else layout.row / 2)
    if top:
        shape(
            svg, "line", "fig-rule", x1=0, y1=top, x2=layout.width, y2=top, stroke=palette.line,
            stroke_width=0.4, stroke_opacity=0.6,
        )  # fmt: skip
    scale = _scale(row.low, row.high, row.wide_low, row.wide_high)
    if scale:
        _draw_strip(svg, scale, layout.strip_x, middle, layout.strip_width, palette)
        _draw_marks(svg, scale, row, layout.strip_x, middle, layout.strip_width, palette)
    write_words = _write_above if layout.stacked else _write_beside
    write_words(svg, row, middle, labels, palette, layout)


def _value(row: BandRow, labels: BandLabels, room: float) -> str:
    """Value and verdict. A value too long for its place is cut, the verdict never."""
    word = labels.word(row.verdict)
    value = fit(f"{row.shown} {row.unit}", room / _BOLD - text_width(f", {word}", 12), 12, 1)
    return ", ".join([*value, word])


def _write_beside(
    svg: ET.Element, row: BandRow, middle: float, labels: BandLabels, palette: Palette, layout: _Layout
) -> None:
    name = fit(row.name, layout.strip_x - 16, 12)
    for index, line in enumerate(name):
        write(svg, 0, middle + 4 + (index - (len(name) - 1) / 2) * 14, line, fill=palette.ink, size=12)
    room = layout.width - layout.value_x
    lines = [(_value(row, labels, room), palette.ink, "bold")]
    if row.band_shown:
        lines += [
            (text, palette.quiet, "normal")
            for text in fit(f"{labels.comfortable} {row.band_shown}", room, 10.5, 1)
        ]
    for index, (text, fill, weight) in enumerate(lines):
        y = middle + 4 + (index - (len(lines) - 1) / 2) * 14
        write(svg, layout.value_x, y, text, fill=fill, size=10.5 if index else 12, weight=weight)


def _write_above(
    svg: ET.Element, row: BandRow, middle: float, labels: BandLabels, palette: Palette, layout: _Layout
) -> None:
    half = layout.width / 2 - 6
    for text in fit(row.name, half, 12, 1):
        write(svg, 0, middle - 16, text, fill=palette.ink, size=12)
    value = _value(row, labels, half)
    write(svg, layout.width - 2, middle - 16, value, fill=palette.ink, size=12, weight="bold", anchor="end")
    if row.band_shown:
        room = layout.width - layout.value_x
        for text in fit(f"{labels.comfortable} {row.band_shown}", room, 10.5, 1):
            write(svg, layout.width - 2, middle + 4, text, fill=palette.quiet, size=10.5, anchor="end")


def _draw_legend(
    svg: ET.Element, y: float, labels: BandLabels, palette: Palette, layout: _Layout, *, ghost: bool
) -> None:
    x = layout.strip_x
    shape(
        svg, "rect", "fig-narrow",
        x=x, y=y - 6, width=18, height=12, fill=palette.narrow, stroke=palette.ink, stroke_width=0.9,
    )  # fmt: skip
    comfortable = fit(labels.comfortable, 150, 10.5, 1)
    for text in comfortable:
        write(svg, x + 24, y + 4, text, fill=palette.quiet, size=10.5)
        x += 24 + text_width(text, 10.5) + 14
    shape(
        svg, "rect", "fig-wide",
        x=x, y=y - 5, width=18, height=10, fill=palette.wide, stroke=palette.line, stroke_width=0.6,
    )  # fmt: skip
    hatch(svg, "fig-hatch", x, y - 5, 18, 10, palette.line)
    for text in fit(labels.tolerated, layout.width - x - 24, 10.5, 1):
        write(svg, x + 24, y + 4, text, fill=palette.quiet, size=10.5)
    if ghost:
        paint: dict[str, str | float] = {
            "fill": palette.ground, "stroke": palette.ghost, "stroke_width": 1.5,
        }  # fmt: skip
        _draw_mark(svg, layout.strip_x + 9, y + 20, "inside", "fig-ghost", paint)
        for text in fit(labels.last_time, layout.width - layout.strip_x - 24, 10.5, 1):
            write(svg, layout.strip_x + 24, y + 24, text, fill=palette.quiet, size=10.5)


def gauge_svg(
    value: float | None, low: float | None, high: float | None, wide_low: float | None,
    wide_high: float | None, previous: float | None = None, *, title: str, desc: str = "",
    palette: Palette = PAPER, key: str = "",
) -> str:  # fmt: skip
    """One strip without text, to stand beside an input or in a table cell.

    value: the reading, None while nothing is known (the band alone is drawn). low, high: comfortable
    limits; wide_low, wide_high: tolerated limits; previous: last time's value, drawn as a ghost. All in one
    unit, any finite value, None where unknown. title: the accessible name, which must say value and
    verdict in words. desc: more words. key: see `svg.frame`. Raises nothing.
    """
    width, height = 220.0, 24.0
    svg = frame("gauge", width, height, title, desc or title, key=key)
    scale = _scale(low, high, wide_low, wide_high)
    if scale is None:
        shape(
            svg, "line", "fig-track", x1=1, y1=12, x2=width - 1, y2=12, stroke=palette.line,
            stroke_width=0.75, stroke_dasharray="3 3",
        )  # fmt: skip
        return finish(svg)
    known = finite(value)
    verdict: Verdict = "no-band" if known is None else _verdict(known, low, high)
    row = BandRow("", "", "", value, low, high, wide_low, wide_high, "", verdict, previous)
    _draw_strip(svg, scale, 1, height / 2, width - 2, palette)
    _draw_marks(svg, scale, row, 1, height / 2, width - 2, palette)
    return finish(svg)
