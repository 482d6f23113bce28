"""A nutrient profile against its target: one bar for each element, the target as one line for all.

Every bar is drawn as a share of its own target, so that nitrogen and boron can stand under one another.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, shape, write

_WIDTH, _ROW, _NAME, _BARS = 640.0, 26.0, 120.0, 300.0
_MOST = 2.0  # a bar ends at twice the target and says so with an arrow
Near = Literal["short", "near", "over", "no-target"]


@dataclass(frozen=True)
class ProfileRow:
    """One element: its name and texts in the reader's language, and its amounts in one unit, mg/L usually."""

    name: str
    reached: float
    target: float | None
    shown: str


@dataclass(frozen=True)
class ProfileLabels:
    """The words of a profile figure in the reader's language."""

    short: str
    near: str
    over: str
    no_target: str
    target: str

    def word(self, near: Near) -> str:
        """The word for a verdict."""
        return {"short": self.short, "near": self.near, "over": self.over}.get(near, self.no_target)


def nearness(reached: float, target: float | None, tolerance: float = 0.1) -> Near:
    """Return whether an amount lies within `tolerance` (a share, 0 to 1) of its target, below or above it.

    Amounts of 0 or more in one unit; a missing target, or one of zero, gives "no-target". Raises nothing.
    """
    amount, wanted = finite(reached), finite(target)
    if amount is None or wanted is None or wanted <= 0:
        return "no-target"
    if amount < wanted * (1 - tolerance):
        return "short"
    return "over" if amount > wanted * (1 + tolerance) else "near"


def describe_profile(rows: Sequence[ProfileRow], labels: ProfileLabels) -> str:
    """What a profile figure shows, in words: one sentence for each element."""
    return " ".join(
        f"{row.name}: {row.shown}, {labels.word(nearness(row.reached, row.target))}." for row in rows
    )


def profile_figure(
    rows: Sequence[ProfileRow], *, title: str, labels: ProfileLabels, palette: Palette = PAPER, key: str = "",
    font: str = "",
) -> str:  # fmt: skip
    """A figure with one bar for each element and a line where the targets lie.

    rows: elements in the order to show them, amounts of 0 or more in one unit within a row; a row without a
    target, or with one of zero, shows its value without a bar. title: the figure's accessible name. labels:
    its words. key, font: see `svg.frame`. Raises nothing.
    """
    height = len(rows) * _ROW + 26
    svg = frame("profile", _WIDTH, height, title, describe_profile(rows, labels), key=key, font=font)
    for index, row in enumerate(rows):
        _draw_row(svg, row, index * _ROW, labels, palette)
    _draw_target(svg, len(rows) * _ROW, labels, palette)
    return finish(svg)


def _draw_row(svg: ET.Element, row: ProfileRow, top: float, labels: ProfileLabels, palette: Palette) -> None:
    near = nearness(row.reached, row.target)
    for line in fit(row.name, _NAME - 10, 12, 1):
        write(svg, 0, top + 17, line, fill=palette.ink, size=12)
    if near != "no-target" and row.target:
        share = (finite(row.reached) or 0.0) / row.target
        _draw_bar(svg, min(max(share, 0.0), _MOST), near, top, palette)
    for line in fit(f"{row.shown}, {labels.word(near)}", _WIDTH - _NAME - _BARS - 18, 11, 1):
        write(svg, _NAME + _BARS + 16, top + 17, line, fill=palette.ink, size=11)


def _draw_bar(svg: ET.Element, share: float, near: Near, top: float, palette: Palette) -> None:
    shape(
        svg, "rect", f"fig-bar fig-{near}", x=_NAME, y=top + 5, width=_BARS * share / _MOST, height=_ROW - 10,
        fill=palette.narrow if near == "near" else palette.leans_against,
        stroke=palette.ink, stroke_width=0.8,
    )  # fmt: skip
    if share >= _MOST:
        tip, middle = _NAME + _BARS, top + _ROW / 2
        points = f"{tip:.2f},{middle - 6:.2f} {tip + 8:.2f},{middle:.2f} {tip:.2f},{middle + 6:.2f}"
        shape(svg, "polygon", "fig-beyond", points=points, fill=palette.ink)


def _draw_target(svg: ET.Element, bottom: float, labels: ProfileLabels, palette: Palette) -> None:
    x = _NAME + _BARS / _MOST
    shape(
        svg, "line", "fig-target", x1=x, y1=0, x2=x, y2=bottom + 4, stroke=palette.ink, stroke_width=1.4,
        stroke_dasharray="5 3",
    )  # fmt: skip
    for line in fit(labels.target, _BARS, 10.5, 1):
        write(svg, x, bottom + 18, line, fill=palette.quiet, size=10.5, anchor="middle")
