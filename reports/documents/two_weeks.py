"""What a plan prints beyond its steps: the first two weeks day by day, and what has to be bought.

Plain data from the snapshot, shortened for paper: a step that stands in full further up is named by its
number and its first sentence, and what is done every day is said once.
"""

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reports.documents.paper import sentence_case

_WEEK = 7
_LATEST_DAILY = 3  # what begins later than this day is told on its days, however often it returns
_PAUSE = re.compile(r"(?<=[.!?])\s+")


@dataclass(frozen=True)
class Step:
    """A step as it is named elsewhere: its number on the page, its words, whether it has a caution."""

    number: int
    text: str
    careful: bool = False


def steps_by_line(actions: Sequence[Mapping[str, Any]], order: Sequence[str]) -> list[Step]:
    """The step of each action, in the order of the snapshot; numbers run in the order of the page."""
    places = sorted(range(len(actions)), key=lambda place: order.index(actions[place]["when"]))
    number = {place: count for count, place in enumerate(places, start=1)}
    return [
        Step(number[place], action["text"], bool(action.get("cautions")))
        for place, action in enumerate(actions)
    ]


def first_sentence(text: str) -> str:
    """The text up to where its first sentence ends; whole if that cannot be told, as after "approx. 5 ml"."""
    for pause in _PAUSE.finditer(text):
        following = text[pause.end() : pause.end() + 1]
        if following.isalpha() and not following.islower():
            return text[: pause.start()]
    return text


def days_view(snapshot: Mapping[str, Any], steps: Sequence[Step]) -> dict[str, Any] | None:
    """The calendar as it is printed. None for a plan without steps or from before plans had one."""
    calendar = snapshot.get("calendar")
    if not calendar or not steps:
        return None
    days = calendar["days"]
    daily = _daily(days)
    return {
        "daily": [{"text": text, "from": day} for text, day in daily.items()],
        "weeks": [
            [_row(day, steps, daily) for day in days[begin : begin + _WEEK]]
            for begin in range(0, len(days), _WEEK)
        ],
        "after": [_named(item, steps) for item in calendar["after"]],
    }


def days_texts(days: Mapping[str, Any] | None) -> list[str]:
    """All that stands in the days, to tell how they are laid out."""
    rows = itertools.chain.from_iterable(days["weeks"]) if days else ()
    return [item["text"] for row in rows for item in (*row["do"], *row["watch"])]


def shopping_view(snapshot: Mapping[str, Any], steps: Sequence[Step]) -> dict[str, Any] | None:
    """The shopping list as it is printed: what must be bought first. None as in `days_view`."""
    shopping = snapshot.get("shopping")
    if not shopping or not steps:
        return None
    lines = [_shopping_line(line, steps) for line in shopping["lines"]]
    must = [line for line in lines if line["must"]]
    return {
        **shopping,
        "lines": sorted(lines, key=lambda line: not line["must"]),
        "optional": len(must) < len(lines),
        "must": bool(must),
        "priced": any(line["cost"] for line in must),
        "priced_all": any(line["cost"] for line in lines),
    }


def _daily(days: Sequence[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    """What is repeated on every day from one of the first days to the last, with the day it begins on."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for day in days:
        for text in {item["text"] for item in day["items"] if item["kind"] == "again"}:
            found.setdefault(text, []).append(day)
    daily = {}
    for item in itertools.chain.from_iterable(day["items"] for day in days):
        when = found.get(item["text"], []) if item["kind"] == "again" else []
        if when and when[0]["day"] <= _LATEST_DAILY and when == list(days[-len(when) :]):
            daily[item["text"]] = when[0]
    return daily


def _row(day: Mapping[str, Any], steps: Sequence[Step], daily: Mapping[str, Any]) -> dict[str, Any]:
    left = [item for item in day["items"] if not (item["kind"] == "again" and item["text"] in daily)]
    today = day["day"] == 1
    do = [_named(item, steps) for item in left if item["kind"] in ("do", "again")]
    return {
        "today": today,
        "weekday": day["weekday"],
        "shown": day["shown"],
        # Today's steps stand large on the first page: their numbers are enough.
        "numbers": sorted(item["step"].number for item in do if item["step"]) if today else [],
        "do": [item for item in do if not (today and item["step"])],
        "watch": [item for item in left if item["kind"] not in ("do", "again")],
        "daily": len(left) < len(day["items"]),
    }


def _named(item: Mapping[str, Any], steps: Sequence[Step]) -> dict[str, Any]:
    step = _step(item["line"], steps) if item["kind"] == "do" else None
    return {
        "kind": item["kind"],
        "step": step,
        "text": first_sentence(item["text"]) if step else item["text"],
        "careful": step is not None and step.careful,
    }


def _step(line: int | None, steps: Sequence[Step]) -> Step | None:
    return steps[line] if line is not None and 0 <= line < len(steps) else None


def _shopping_line(line: Mapping[str, Any], steps: Sequence[Step]) -> dict[str, Any]:
    asked = (_step(number, steps) for number in line["lines"])
    number_of = {step.text: step.number for step in steps}
    planned = [number_of[other["text"]] for other in line["instead"] if _is_step(other, number_of)]
    return {
        **line,
        "name": sentence_case(line["name"]),
        "steps": sorted(step.number for step in asked if step),
        "without": [other["text"] for other in line["instead"] if not _is_step(other, number_of)],
        "without_steps": sorted(planned),
    }


def _is_step(other: Mapping[str, Any], number_of: Mapping[str, int]) -> bool:
    return bool(other["in_plan"]) and other["text"] in number_of
