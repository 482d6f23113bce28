"""What all figures share: colours, the frame with its title, escaping, and fitting text to a width."""

import math
import re
import secrets
import unicodedata
from dataclasses import dataclass
from xml.etree import ElementTree as ET

_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_FAR = 1e15  # beyond this a coordinate says nothing and differences of floats overflow


@dataclass(frozen=True)
class Palette:
    """Colours of a figure as SVG paint. The defaults suit paper, also a black-and-white printer."""

    ink: str = "#1c2620"
    quiet: str = "#5b5247"
    line: str = "#6f665a"
    wide: str = "#f4efe3"
    narrow: str = "#b5cbb0"
    mark: str = "#1c2620"
    ghost: str = "#5b5247"
    leans_for: str = "#2a5d39"
    leans_against: str = "#d9d0c0"
    ground: str = "#ffffff"


PAPER = Palette()


def clean(text: str) -> str:
    """`text` without the characters XML cannot carry (control characters, lone surrogates)."""
    return _NOT_XML.sub("", text)


def finite(value: float | None) -> float | None:
    """`value` within ±1e15; None when it is missing or not a number. Infinity counts as very far."""
    if value is None or math.isnan(value):
        return None
    return min(max(float(value), -_FAR), _FAR)


def frame(
    kind: str, width: float, height: float, title: str, desc: str, *, key: str = "", font: str = ""
) -> ET.Element:
    """The `<svg>` of a figure with its title and description.

    `key` makes its ids repeatable and must then be unique on the page; without it they are random, so
    that two figures never share an id, not even when a part of the page is replaced later. `font` is a
    font family for renderers in which the figure does not inherit one.
    """
    name = f"fig-{key or secrets.token_hex(6)}"
    svg = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "class": f"fig fig-{kind}",
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "role": "img",
            "aria-labelledby": f"{name}-title",
            "aria-describedby": f"{name}-desc",
        },
    )
    if font:
        svg.set("font-family", font)
    ET.SubElement(svg, "title", {"id": f"{name}-title"}).text = clean(title)
    ET.SubElement(svg, "desc", {"id": f"{name}-desc"}).text = clean(desc)
    return svg


def shape(parent: ET.Element, tag: str, css_class: str, **attributes: str | float) -> ET.Element:
    """Adds a shape; underscores in attribute names become hyphens."""
    made = ET.SubElement(parent, tag, {"class": css_class})
    for name, value in attributes.items():
        made.set(name.rstrip("_").replace("_", "-"), value if isinstance(value, str) else number(value))
    return made


def write(
    parent: ET.Element, x: float, y: float, text: str, *, fill: str, size: float, css_class: str = "fig-text",
    weight: str = "normal", anchor: str = "start",
) -> None:  # fmt: skip
    """Adds one line of text with its baseline at `y`."""
    shape(
        parent, "text", css_class,
        x=x, y=y, fill=fill, font_size=size, font_weight=weight, text_anchor=anchor,
    ).text = clean(text)  # fmt: skip


def hatch(
    parent: ET.Element, css_class: str, x: float, y: float, width: float, height: float, ink: str
) -> None:
    """Slanted hairlines that fill a rectangle and stay inside it, so that the area shows without colour."""
    step, parts = 6.0, []
    start = x - height + step / 2
    for index in range(math.ceil((width + height) / step)):
        foot = start + index * step
        left, right = max(foot, x), min(foot + height, x + width)
        if right - left > 0.5:
            low, high = y + height - (left - foot), y + height - (right - foot)
            parts.append(f"M{number(left)} {number(low)}L{number(right)} {number(high)}")
    if parts:
        shape(parent, "path", css_class, d="".join(parts), fill="none", stroke=ink, stroke_width=0.5)


def number(value: float) -> str:
    """A coordinate with at most two decimals."""
    return f"{round(value, 2) + 0.0:g}" if abs(value) < 1e4 else f"{value:.0f}"


def text_width(text: str, size: float) -> float:
    """About how wide `text` is at font size `size`, in the same unit; rather too wide than too narrow."""
    return size * sum(_em(character) for character in text)


def _em(character: str) -> float:
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return 1.1
    if character in "ijl.,:;'|!ftrI() ":
        return 0.4
    return 0.85 if character.isupper() or character in "mw%@&" else 0.64


def fit(text: str, width: float, size: float, lines: int = 2) -> list[str]:
    """`text` broken into at most `lines` lines of `width`; what does not fit ends in an ellipsis."""
    made: list[str] = []
    rest = " ".join(clean(text).split())
    while rest and len(made) < lines:
        piece = _first_line(rest, width, size)
        rest = rest[len(piece) :].lstrip()
        made.append(piece.rstrip())
    if rest and made:
        last = made[-1]
        while last and text_width(f"{last}…", size) > width:
            last = last[:-1]
        made[-1] = f"{last.rstrip()}…"
    return made


def _first_line(text: str, width: float, size: float) -> str:
    end, used = 0, 0.0
    for character in text:
        used += size * _em(character)
        if used > width:
            break
        end += 1
    if end >= len(text):
        return text
    space = text.rfind(" ", 0, end + 1)
    return text[: space if space > 0 else max(end, 1)]


def finish(svg: ET.Element) -> str:
    """The figure as text, fit to stand in a page."""
    return ET.tostring(svg, encoding="unicode", short_empty_elements=True)
