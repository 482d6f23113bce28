"""Probabilities said against how often they came true: a diagonal is perfect."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, fit, frame, shape, write

_SIDE, _LEFT, _TOP = 320.0, 56.0, 24.0
_WIDTH, _HEIGHT = _LEFT + _SIDE + 24, _TOP + _SIDE + 52
_TICKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)


@dataclass(frozen=True)
class ReliabilityPoint:
    """Cases said to have the probability `expected`: how often it came true, with an interval (0..1)."""

    expected: float
    observed: float
    low: float
    high: float
    count: int


@dataclass(frozen=True)
class ReliabilityLabels:
    """The words of the axes, and of one point in the description (expected, observed and count in it)."""

    expected: str
    observed: str
    perfect: str
    point: str = "%(expected)s: %(observed)s (%(count)s)"


def reliability_plot(
    points: Sequence[ReliabilityPoint], *, title: str, labels: ReliabilityLabels, palette: Palette = PAPER,
    key: str = "", font: str = "",
) -> str:  # fmt: skip
    """A square with the diagonal of perfect reliability, a mark and an interval for each point.

    The description says every point in words. key, font: see `svg.frame`. Raises nothing; values outside
    0..1 are drawn at the edge.
    """
    said = "; ".join(
        labels.point % {"expected": f"{p.expected:.3f}", "observed": f"{p.observed:.3f}", "count": p.count}
        for p in points
    )
    svg = frame("reliability", _WIDTH, _HEIGHT, title, said, key=key, font=font)
    _draw_axes(svg, labels, palette)
    for point in points:
        _draw_point(svg, point, palette)
    return finish(svg)


def _x(share: float) -> float:
    return _LEFT + min(max(share, 0.0), 1.0) * _SIDE


def _y(share: float) -> float:
    return _TOP + (1 - min(max(share, 0.0), 1.0)) * _SIDE


def _draw_axes(svg: ET.Element, labels: ReliabilityLabels, palette: Palette) -> None:
    shape(
        svg, "rect", "fig-ground", x=_LEFT, y=_TOP, width=_SIDE, height=_SIDE, fill=palette.wide,
        stroke=palette.line, stroke_width=1,
    )  # fmt: skip
    shape(
        svg, "line", "fig-perfect", x1=_x(0), y1=_y(0), x2=_x(1), y2=_y(1), stroke=palette.quiet,
        stroke_width=1, stroke_dasharray="4 4",
    )  # fmt: skip
    for tick in _TICKS:
        write(svg, _x(tick), _y(0) + 16, f"{tick:.1f}", fill=palette.ink, size=11, anchor="middle")
        write(svg, _LEFT - 8, _y(tick) + 4, f"{tick:.1f}", fill=palette.ink, size=11, anchor="end")
    for text in fit(labels.observed, _SIDE, 11, 1):
        write(svg, 4, 14, text, fill=palette.quiet, size=11)
    for text in fit(labels.expected, _SIDE, 11, 1):
        write(svg, _x(0.5), _y(0) + 38, text, fill=palette.quiet, size=11, anchor="middle")
    for text in fit(labels.perfect, _SIDE * 0.4, 11, 1):
        write(svg, _x(0.62) + 6, _y(0.56), text, fill=palette.quiet, size=11)


def _draw_point(svg: ET.Element, point: ReliabilityPoint, palette: Palette) -> None:
    x = _x(point.expected)
    shape(
        svg, "line", "fig-interval", x1=x, y1=_y(point.low), x2=x, y2=_y(point.high), stroke=palette.ink,
        stroke_width=1.5,
    )  # fmt: skip
    shape(
        svg, "circle", "fig-mark", cx=x, cy=_y(point.observed), r=4, fill=palette.mark,
        stroke=palette.ground, stroke_width=1.5,
    )  # fmt: skip
