"""How the water of a pot runs down from one watering to the next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, shape, write

# About as wide as a phone shows it, so that its letters stay as large as those beside it.
_WIDTH, _HEIGHT = 360.0, 256.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 44.0, 26.0, 350.0, 210.0


@dataclass(frozen=True)
class DrydownLabels:
    """The words of the figure in the reader's language, the axes' units in them."""

    water_left: str
    days: str
    water_now: str
    today: str


def drydown_figure(
    curve: Sequence[tuple[float, float]], water_now: float | None, *, title: str, desc: str,
    labels: DrydownLabels, now: tuple[float, float] | None = None, palette: Palette = PAPER,
    key: str = "", font: str = "",
) -> str:  # fmt: skip
    """The water left over days as a line, with a dashed line where it is time to water again.

    curve: pairs of day and water left (any one unit), days rising; pairs that are not numbers are left out.
    water_now: the level at which to water, None when unknown; the day the curve reaches it is marked.
    now: the pot today as day and water left, drawn as a diamond. title, desc: must say in words when to
    water. key, font: see `svg.frame`. Raises nothing.
    """
    svg = frame("drydown", _WIDTH, _HEIGHT, title, desc, key=key, font=font)
    points = _known(curve)
    level = finite(water_now)
    last = max((day for day, _ in points), default=1.0) or 1.0
    top = max([left for _, left in points] + ([level] if level is not None else []), default=1.0)
    scale = _Scale(last if last > 0 else 1.0, top if top > 0 else 1.0)
    _draw_axes(svg, scale, labels, palette)
    if len(points) > 1:
        path = "L".join(f"{scale.x(day):.2f} {scale.y(left):.2f}" for day, left in points)
        shape(
            svg, "path", "fig-curve", d=f"M{path}", fill="none", stroke=palette.ink, stroke_width=2,
        )  # fmt: skip
    if level is not None:
        _draw_level(svg, points, level, scale, labels, palette)
    if now is not None and _known([now]):
        _draw_now(svg, scale.x(now[0]), scale.y(now[1]), labels, palette)
    return finish(svg)


@dataclass(frozen=True)
class _Scale:
    last_day: float
    most: float

    def x(self, day: float) -> float:
        return _LEFT + min(max(day / self.last_day, 0.0), 1.0) * (_RIGHT - _LEFT)

    def y(self, left: float) -> float:
        return _BOTTOM - min(max(left / self.most, 0.0), 1.0) * (_BOTTOM - _TOP)


def _known(curve: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    pairs = [(finite(day), finite(left)) for day, left in curve]
    return [(day, left) for day, left in pairs if day is not None and left is not None]


def _reached(points: Sequence[tuple[float, float]], level: float) -> float | None:
    """The day on which the curve first falls to `level`."""
    for (day, left), (next_day, next_left) in pairwise(points):
        if left >= level >= next_left and next_day >= day:
            fall = left - next_left
            return day + (next_day - day) * ((left - level) / fall if fall > 0 else 0.0)
    return None


def _draw_level(
    svg: ET.Element, points: Sequence[tuple[float, float]], level: float, scale: _Scale,
    labels: DrydownLabels, palette: Palette,
) -> None:  # fmt: skip
    y = scale.y(level)
    shape(
        svg, "line", "fig-level", x1=_LEFT, y1=y, x2=_RIGHT, y2=y, stroke=palette.ink, stroke_width=1,
        stroke_dasharray="5 4",
    )  # fmt: skip
    for text in fit(labels.water_now, 200, 11, 1):
        write(svg, _RIGHT, max(y - 5, _TOP + 10), text, fill=palette.ink, size=11, anchor="end")
    day = _reached(points, level)
    if day is not None:
        shape(
            svg, "circle", "fig-mark", cx=scale.x(day), cy=y, r=5, fill=palette.mark,
            stroke=palette.ground, stroke_width=1.5,
        )  # fmt: skip
        shape(
            svg, "line", "fig-rule", x1=scale.x(day), y1=y, x2=scale.x(day), y2=_BOTTOM,
            stroke=palette.line, stroke_width=0.8, stroke_dasharray="2 3",
        )  # fmt: skip


def _draw_now(svg: ET.Element, x: float, y: float, labels: DrydownLabels, palette: Palette) -> None:
    points = f"{x:.2f},{y - 8:.2f} {x + 7:.2f},{y:.2f} {x:.2f},{y + 8:.2f} {x - 7:.2f},{y:.2f}"
    shape(
        svg, "polygon", "fig-ghost", points=points, fill=palette.ground, stroke=palette.ink, stroke_width=1.5,
    )  # fmt: skip
    right = x < (_LEFT + _RIGHT) / 2
    for text in fit(labels.today, 120, 11, 1):
        write(
            svg, x + 11 if right else x - 11, y - 6, text, fill=palette.ink, size=11,
            anchor="start" if right else "end",
        )  # fmt: skip


def _ticks(most: float) -> list[float]:
    """Round numbers from 0 to `most`, about five of them."""
    rough = most / 5
    power = 10.0 ** math.floor(math.log10(rough)) if rough > 0 else 1.0
    step = next((power * size for size in (1, 2, 5, 10) if power * size >= rough), power * 10)
    return [step * index for index in range(int(most / step + 1e-9) + 1)]


def _draw_axes(svg: ET.Element, scale: _Scale, labels: DrydownLabels, palette: Palette) -> None:
    for x2, y2 in ((_RIGHT, _BOTTOM), (_LEFT, _TOP)):
        shape(
            svg, "line", "fig-axis", x1=_LEFT, y1=_BOTTOM, x2=x2, y2=y2, stroke=palette.line, stroke_width=1
        )
    for day in _ticks(scale.last_day):
        x = scale.x(day)
        shape(
            svg, "line", "fig-tick", x1=x, y1=_BOTTOM, x2=x, y2=_BOTTOM + 4, stroke=palette.line,
            stroke_width=0.8,
        )  # fmt: skip
        write(svg, x, _BOTTOM + 17, f"{day:.4g}", fill=palette.ink, size=11, anchor="middle")
    for left in _ticks(scale.most):
        y = scale.y(left)
        shape(
            svg, "line", "fig-tick", x1=_LEFT - 4, y1=y, x2=_LEFT, y2=y, stroke=palette.line,
            stroke_width=0.8,
        )  # fmt: skip
        write(svg, _LEFT - 8, y + 4, f"{left:.4g}", fill=palette.ink, size=11, anchor="end")
    for text in fit(labels.water_left, _RIGHT - _LEFT, 11, 1):
        write(svg, 4, 14, text, fill=palette.quiet, size=11)
    for text in fit(labels.days, _RIGHT - _LEFT, 11, 1):
        write(svg, (_LEFT + _RIGHT) / 2, _BOTTOM + 36, text, fill=palette.quiet, size=11, anchor="middle")
