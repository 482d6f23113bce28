"""How much: every number a plan quotes, computed from the case. One function per quantity code.

A module of this package is found by itself; a new quantity is one function with `@quantity(...)`.
"""

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from consults.cases.facts import Facts
from garden.agronomy.errors import AgronomyError
from garden.wording import Wording


@dataclass(frozen=True)
class Answer:
    """What a plan says: the amount in the grower's units, and how it was worked out.

    `uses` is the amount of the thing itself that is used up, in g or L, where it can be bought.
    """

    shown: str
    lines: tuple[str, ...]
    source: str
    estimate: bool = False
    uses: tuple[float, str] | None = None


@dataclass(frozen=True)
class Worked:
    """An answer with its title, or the reason why there is none (`shown` empty, `needs` a sentence)."""

    code: str
    title: str
    shown: str
    lines: tuple[str, ...] = ()
    source: str = ""
    estimate: bool = False
    needs: str = ""
    uses: tuple[float, str] | None = None


class NotKnown(ValueError):  # noqa: N818 - reads as what it says
    """A quantity cannot be worked out; says what to measure or enter."""


Compute = Callable[[Facts, Wording], Answer]
_FOUND: dict[str, tuple[Any, Compute]] = {}


def quantity(code: str, title: Any) -> Callable[[Compute], Compute]:
    """Register the function that works out the quantity `code`; `title` is a translatable text."""

    def keep(function: Compute) -> Compute:
        if code in _FOUND:
            raise RuntimeError(f"The quantity {code} is worked out twice.")
        _FOUND[code] = (title, function)
        return function

    return keep


@cache
def all_quantities() -> dict[str, tuple[Any, Compute]]:
    """All quantities by code."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return dict(sorted(_FOUND.items()))


def work_out(code: str, facts: Facts, wording: Wording) -> Worked:
    """Return the quantity `code` for a case in the grower's words and units. Never raises for a known code:
    what cannot be worked out comes back with the sentence that says what is missing."""
    title, function = all_quantities()[code]
    try:
        answer = function(facts, wording)
    except (NotKnown, AgronomyError) as reason:
        return Worked(code=code, title=str(title), shown="", needs=str(reason))
    return Worked(
        code, str(title), answer.shown, answer.lines, answer.source, answer.estimate, uses=answer.uses
    )
