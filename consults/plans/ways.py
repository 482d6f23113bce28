"""How each action of the rules is carried through: its sign of success, its rhythm, what it needs.

Read once from `data/ways.yaml` and `data/needs.yaml`. Knows no Django.
"""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal

import yaml
from pydantic import Field, TypeAdapter

from consults.ruleset.schema import Entry
from garden.reference.schema import Code, Text

Aim = Literal["people", "spread"]
Place = Literal["new-leaves", "old-leaves", "edges", "stance", "growth", "fruit", "spots", "pests"]
_FOLDER = Path(__file__).parent / "data"
_Days = Annotated[int, Field(ge=1, le=90)]


class Again(Entry):
    """What is done again every so many days while the action runs."""

    every: _Days
    text: Text


class Way(Entry):
    """How one action is carried through. See the head of `data/ways.yaml` for what each field means.

    An amount that the action's quantity works out is an amount of the first of its needs.
    """

    aim: Aim | None = None
    works: Text | None = None
    days: _Days | None = None
    shows: Place | None = None
    again: Again | None = None
    needs: tuple[Code, ...] = ()
    instead: tuple[Code, ...] = ()


class Need(Entry):
    """Something a shelf item can serve, and what to do without it."""

    code: Code
    name: Text
    without: Text | None = None


UNKNOWN = Way()


@cache
def load_ways() -> Mapping[str, Way]:
    """Return the way of each action by its code. Raises ValidationError when the file is not in order."""
    return MappingProxyType(TypeAdapter(dict[str, Way]).validate_python(_read("ways.yaml")))


@cache
def load_needs() -> Mapping[str, Need]:
    """Return the needs by code, in the order of the file."""
    needs = TypeAdapter(list[Need]).validate_python(_read("needs.yaml"))
    return MappingProxyType({need.code: need for need in needs})


def way_of(code: str) -> Way:
    """Return the way of an action; an empty one for an action the file does not name."""
    return load_ways().get(code, UNKNOWN)


def _read(name: str) -> Any:
    return yaml.safe_load((_FOLDER / name).read_text(encoding="utf-8"))
