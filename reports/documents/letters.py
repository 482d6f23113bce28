"""Says before anything is sent which characters of a document no font of this machine can draw, and where.

What staff can do: write it in other letters, or have a font installed.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from reports.pdf import undrawable

_SHOWN = 12  # characters of one place that are named
# Where a text stands, by the beginning of its path. The first that fits counts.
_PLACES: tuple[tuple[str, Any], ...] = (
    ("grower/name", gettext_lazy("the grower's name")),
    ("shop/", gettext_lazy("the shop's settings")),
    ("case/story", gettext_lazy("the story")),
    ("case/crop", gettext_lazy("the crop")),
    ("case/", gettext_lazy("the garden")),
    ("plan/greeting", gettext_lazy("the opening words")),
    ("plan/by", gettext_lazy("the name of who made the plan")),
    ("photos/", gettext_lazy("the caption of a photo")),
    ("mixing/doses/", gettext_lazy("the name of a feed")),
    ("mixing/answers/", gettext_lazy("an answer of the bench")),
    ("workings/", gettext_lazy("a working")),
    ("words", gettext_lazy("the question")),
    ("answer", gettext_lazy("the answer")),
)
_ACTION = re.compile(r"actions/(\d+)/")


@dataclass(frozen=True)
class Undrawn:
    """A place in a document and the characters there that would be printed as empty boxes."""

    place: str
    letters: tuple[str, ...]
    more: int = 0

    @property
    def named(self) -> str:
        """The characters with their names: "🌱 (SEEDLING, U+1F331)"."""
        return self._listed([f"{letter} ({letter_name(letter)})" for letter in self.letters])

    @property
    def names(self) -> str:
        """The names alone, for a page on which the characters themselves cannot be drawn."""
        return self._listed([letter_name(letter) for letter in self.letters])

    def _listed(self, said: list[str]) -> str:
        return ", ".join(said) + (" …" if self.more else "")


def letter_name(letter: str) -> str:
    """What a character is called, for somebody who sees a box where it should stand."""
    code = f"U+{ord(letter):04X}"
    name = unicodedata.name(letter, "")
    return code if not name or name.endswith(code[2:]) else f"{name}, {code}"


def undrawn_places(data: Mapping[str, Any]) -> list[Undrawn]:
    """Each place of a document's data with characters no font can draw. Raises PdfUnavailable."""
    texts = list(_texts(data))
    lacking = undrawable(text for _path, text in texts)
    found: dict[str, dict[str, None]] = {}
    for path, text in texts if lacking else ():
        letters = dict.fromkeys(letter for letter in text if letter in lacking)
        if letters:
            found.setdefault(_place(path), {}).update(letters)
    return [
        Undrawn(place, tuple(letters)[:_SHOWN], max(0, len(letters) - _SHOWN))
        for place, letters in found.items()
    ]


def _texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from _texts(item, f"{path}/{key}" if path else str(key))
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            yield from _texts(item, f"{path}/{index}")


def _place(path: str) -> str:
    if match := _ACTION.match(path):
        return _("line %(number)s of the plan") % {"number": int(match[1]) + 1}
    for start, name in _PLACES:
        if path.startswith(start):
            return str(name)
    return _("the text")
