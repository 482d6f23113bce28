"""Papers that can be printed about a case, a plan or a question. Floors above register theirs, by address.

A page shows them with `{% load desk_papers %}{% papers "case" case.pk %}`.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Paper:
    """`name` as people read it, `url_name` the address, which takes the key of what the paper is about."""

    about: str
    name: Any
    url_name: str


_registered: dict[str, Paper] = {}


def register_paper(name: Any, url_name: str, *, about: str = "case") -> None:
    """Offer a paper about each "case", "plan" or "question". Registering an address twice keeps the last."""
    _registered[url_name] = Paper(about, name, url_name)


def papers_about(about: str) -> list[Paper]:
    """What can be printed about one of these, in the order of registering."""
    return [paper for paper in _registered.values() if paper.about == about]
