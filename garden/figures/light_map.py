"""A canopy seen from above, in cells shaded by how much light reaches them, with the numbers in them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, shape, text_width, write

# About as wide as a phone shows it, so that its letters stay as large as those beside it.
_WIDTH, _SIDE, _LEFT, _TOP = 360.0, 340.0, 10.0, 8.0
_LEGEND_COLUMNS, _LEGEND_WIDTH, _LEGEND_ROW = 3, 112.0, 20.0
_MOST_CELLS = 10
# From faint to full: told apart by lightness alone, so also without colour.
_SHADES = ("#ffffff", "#e8efe2", "#c9dbc1", "#9fbf96", "#6f9c68")


@dataclass(frozen=True)
class LightMapLabels:
    """The words of the figure in the reader's language, `unit` as "µmol/m²/s"."""

    mean: str
    lowest: str
    highest: str
    evenness: str
    lamp: str
    unit: str


def light_map_figure(
    ppfd: Sequence[Sequence[float]], length_m: float, width_m: float, *, title: str,
    labels: LightMapLabels, lamps: Sequence[tuple[float, float]] = (), palette: Palette = PAPER,
    key: str = "", font: str = "",
) -> str:  # fmt: skip
    """The map drawn to scale, at most 10 by 10 cells, each with its mean light as a number.

    ppfd: rows along the width, of equal length, in µmol/m²/s (not-a-number and below zero count as 0; no
    rows draw an empty canopy). length_m, width_m: of the canopy, for the shape. lamps: places of lamps in
    m along length and width, drawn as rings; those outside the canopy are left out. The description says
    lowest, mean, highest and evenness in words. key, font: see `svg.frame`. Raises nothing.
    """
    cells = _coarse(ppfd)
    wide, high = _size(length_m, width_m)
    said = describe_light_map(ppfd, labels)
    svg = frame("light-map", _WIDTH, _TOP + high + 86, title, said, key=key, font=font)
    highest = max((cell.light for cell in cells), default=0.0)
    lowest = min((cell.light for cell in cells), default=0.0)
    for cell in cells:
        shade = _shade(cell.light, lowest, highest)
        shape(
            svg, "rect", f"fig-light-{shade + 1}",
            x=_LEFT + cell.left * wide, y=_TOP + cell.top * high,
            width=(cell.right - cell.left) * wide, height=(cell.foot - cell.top) * high,
            fill=_SHADES[shade], stroke=palette.line, stroke_width=0.4,
        )  # fmt: skip
    shape(
        svg, "rect", "fig-edge", x=_LEFT, y=_TOP, width=wide, height=high,
        fill="none", stroke=palette.ink, stroke_width=1.2,
    )  # fmt: skip
    shown = _draw_lamps(svg, lamps, length_m, width_m, (wide, high), palette)
    for cell in cells:
        _write_light(svg, cell, wide, high, palette)
    _draw_legend(svg, (lowest, highest), said, labels, palette, y=_TOP + high + 20, lamps=shown)
    return finish(svg)


def describe_light_map(ppfd: Sequence[Sequence[float]], labels: LightMapLabels) -> str:
    """The map in words: lowest, mean and highest light, and evenness (lowest over mean) in per cent."""
    values = [_light(value) for row in ppfd for value in row]
    if not values:
        return ""
    mean, lowest, highest = sum(values) / len(values), min(values), max(values)
    even = 100 * lowest / mean if mean > 0 else 0.0
    return (
        f"{labels.lowest} {lowest:.0f}, {labels.mean} {mean:.0f}, {labels.highest} {highest:.0f} "
        f"{labels.unit}; {labels.evenness} {even:.0f} %."
    )


def _light(value: float) -> float:
    return max(0.0, finite(value) or 0.0)


@dataclass(frozen=True)
class _Cell:
    """A part of the canopy, its edges as shares of length and width."""

    left: float
    right: float
    top: float
    foot: float
    light: float


def _coarse(ppfd: Sequence[Sequence[float]]) -> list[_Cell]:
    """At most ten by ten cells, each the mean of those it stands for."""
    rows = [[_light(value) for value in row] for row in ppfd if len(row)]
    columns = min((len(row) for row in rows), default=0)
    return [
        _Cell(
            left / columns, right / columns, top / len(rows), foot / len(rows),
            _mean([value for row in rows[top:foot] for value in row[left:right]]),
        )
        for top, foot in _cuts(len(rows))
        for left, right in _cuts(columns)
    ]  # fmt: skip


def _cuts(count: int) -> list[tuple[int, int]]:
    parts = min(count, _MOST_CELLS)
    return [(count * part // parts, count * (part + 1) // parts) for part in range(parts)]


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _size(length_m: float, width_m: float) -> tuple[float, float]:
    length, width = (max(finite(side) or 0.0, 0.0) for side in (length_m, width_m))
    if length <= 0 or width <= 0:
        return _SIDE, _SIDE
    # A very long and narrow canopy is drawn thicker than it is, so that its numbers can be read.
    ratio = min(max(width / length, 0.15), 1.0 if width <= length else 2.0)
    return (_SIDE, _SIDE * ratio) if ratio <= 1 else (_SIDE / ratio, _SIDE)


def _shade(value: float, lowest: float, highest: float) -> int:
    """The cell's fifth between the lowest and the highest; an even canopy is all of the last."""
    if highest - lowest < 0.02 * highest or highest <= 0:
        return len(_SHADES) - 1 if highest > 0 else 0
    return min(len(_SHADES) - 1, int((value - lowest) / (highest - lowest) * len(_SHADES)))


def _write_light(svg: ET.Element, cell: _Cell, wide: float, high: float, palette: Palette) -> None:
    """The cell's light as a number, where there is room for it."""
    width, height = (cell.right - cell.left) * wide, (cell.foot - cell.top) * high
    size, text = min(11.0, height * 0.6), f"{cell.light:.0f}"
    if size >= 7 and text_width(text, size) <= width:
        x = _LEFT + (cell.left + cell.right) / 2 * wide
        y = _TOP + (cell.top + cell.foot) / 2 * high + size * 0.35
        write(svg, x, y, text, fill=palette.ink, size=size, anchor="middle")


def _draw_lamps(
    svg: ET.Element, lamps: Sequence[tuple[float, float]], length_m: float, width_m: float,
    size: tuple[float, float], palette: Palette,
) -> bool:  # fmt: skip
    drawn = False
    for along, across in lamps:
        x, y = finite(along), finite(across)
        if x is None or y is None or not (0 <= x <= length_m and 0 <= y <= width_m):
            continue
        if not (0 < length_m < 1e9 and 0 < width_m < 1e9):
            continue
        shape(
            svg, "circle", "fig-lamp",
            cx=min(max(_LEFT + size[0] * x / length_m, _LEFT + 9), _LEFT + size[0] - 9),
            cy=min(max(_TOP + size[1] * y / width_m, _TOP + 9), _TOP + size[1] - 9),
            r=9, fill="none", stroke=palette.quiet, stroke_width=1.2,
        )  # fmt: skip
        drawn = True
    return drawn


def _draw_legend(
    svg: ET.Element, ends: tuple[float, float], said: str, labels: LightMapLabels, palette: Palette, *,
    y: float, lamps: bool,
) -> None:  # fmt: skip
    lowest, highest = ends
    step = (highest - lowest) / len(_SHADES)
    if highest - lowest >= 0.02 * highest and highest > 0:
        for shade, colour in enumerate(_SHADES):
            x, top = _legend_place(shade, y)
            shape(
                svg, "rect", f"fig-light-{shade + 1}", x=x, y=top - 6, width=16, height=12, fill=colour,
                stroke=palette.line, stroke_width=0.6,
            )  # fmt: skip
            start, end = lowest + shade * step, lowest + (shade + 1) * step
            for text in fit(f"{start:.0f}–{end:.0f}", _LEGEND_WIDTH - 24, 10.5, 1):
                write(svg, x + 20, top + 4, text, fill=palette.quiet, size=10.5)
    if lamps:
        x, top = _legend_place(len(_SHADES), y)
        shape(
            svg, "circle", "fig-lamp", cx=x + 8, cy=top, r=7, fill="none", stroke=palette.quiet,
            stroke_width=1.2,
        )  # fmt: skip
        for text in fit(labels.lamp, _LEGEND_WIDTH - 24, 10.5, 1):
            write(svg, x + 20, top + 4, text, fill=palette.quiet, size=10.5)
    for row, text in enumerate(fit(said, _WIDTH - _LEFT - 8, 11, 2)):
        write(svg, _LEFT, y + 44 + 15 * row, text, fill=palette.ink, size=11)


def _legend_place(index: int, y: float) -> tuple[float, float]:
    row, column = divmod(index, _LEGEND_COLUMNS)
    return _LEFT + column * _LEGEND_WIDTH, y + row * _LEGEND_ROW
