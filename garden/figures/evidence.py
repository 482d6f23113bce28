"""What speaks for a cause and what against it, leaning right and left of a centre line."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from garden.figures.svg import PAPER, Palette, finish, finite, fit, frame, hatch, shape, write

_WIDTH, _ROW, _TOP, _GAP = 480.0, 32.0, 22.0, 8.0
_CENTRE = _WIDTH / 2
_REACH = _CENTRE - _GAP


@dataclass(frozen=True)
class EvidenceRow:
    """One piece of evidence in plain words. `bits` above 0 speaks for the cause, below 0 against it."""

    text: str
    bits: float


@dataclass(frozen=True)
class EvidenceLabels:
    """The words over the two sides."""

    speaks_for: str
    speaks_against: str


def evidence_bars(
    rows: Sequence[EvidenceRow], *, title: str, labels: EvidenceLabels, palette: Palette = PAPER,
    key: str = "", font: str = "",
) -> str:  # fmt: skip
    """Bars to the right for what speaks for a cause, to the left for what speaks against it; longest first.

    rows: any order; bits of evidence, any finite number (not-a-number counts as 0). The words of a row stand
    on the side its bar leaves free. key, font: see `svg.frame`. Raises nothing.
    """
    weighed = [(row.text, finite(row.bits) or 0.0) for row in rows]
    weighed.sort(key=lambda row: -abs(row[1]))
    longest = max((abs(bits) for _, bits in weighed), default=0.0) or 1.0
    said = " ".join(
        f"{labels.speaks_for if bits >= 0 else labels.speaks_against}: {text}." for text, bits in weighed
    )
    height = _TOP + _ROW * len(weighed) + 4
    svg = frame("evidence", _WIDTH, height, title, said, key=key, font=font)
    for text in fit(labels.speaks_against, _REACH, 11, 1):
        write(svg, _CENTRE - _GAP, 13, text, fill=palette.quiet, size=11, anchor="end")
    for text in fit(labels.speaks_for, _REACH, 11, 1):
        write(svg, _CENTRE + _GAP, 13, text, fill=palette.quiet, size=11)
    for index, (text, bits) in enumerate(weighed):
        _draw_row(svg, text, bits, bits / longest, _TOP + _ROW * index, palette)
    shape(
        svg, "line", "fig-centre",
        x1=_CENTRE, y1=2, x2=_CENTRE, y2=height - 2, stroke=palette.ink, stroke_width=1,
    )  # fmt: skip
    return finish(svg)


def _draw_row(svg: ET.Element, text: str, bits: float, share: float, top: float, palette: Palette) -> None:
    length = abs(share) * _REACH
    y = top + (_ROW - 16) / 2
    if bits >= 0:
        shape(svg, "rect", "fig-for", x=_CENTRE, y=y, width=length, height=16, fill=palette.leans_for)
    else:
        shape(
            svg, "rect", "fig-against", x=_CENTRE - length, y=y, width=length, height=16,
            fill=palette.leans_against, stroke=palette.line, stroke_width=0.8,
        )  # fmt: skip
        hatch(svg, "fig-hatch", _CENTRE - length, y, length, 16, palette.line)
    lines = fit(text, _REACH - 4, 11)
    for index, line in enumerate(lines):
        base = top + _ROW / 2 + 4 + (index - (len(lines) - 1) / 2) * 13
        x, anchor = (_CENTRE - _GAP, "end") if bits >= 0 else (_CENTRE + _GAP, "start")
        write(svg, x, base, line, fill=palette.ink, size=11, anchor=anchor)
