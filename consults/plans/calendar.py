"""The first two weeks of a plan, day by day: a pure function from its lines. Knows no Django, no database."""

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

DAYS = 14
_WEEK_FROM, _WEEK_DAYS = 2, 6  # "this week" is day 2 to day 7
_WITHOUT_LOOK = 8  # a line that waits for a look nobody has named begins in the second week; judgement

Kind = Literal["do", "again", "sign", "look", "better"]
_KINDS: tuple[Kind, ...] = ("look", "better", "do", "again", "sign")


@dataclass(frozen=True)
class Task:
    """A line of the plan as the calendar needs it: `line` its number, `sign` how to know it worked and after
    how many days, `again` what is repeated and every how many days."""

    line: int
    text: str
    when: str
    waits: bool = False
    sign: str = ""
    sign_days: int | None = None
    again: str = ""
    every: int | None = None


@dataclass(frozen=True)
class Item:
    """One thing on one day. `line` is the line of the plan it comes from, None for what is about all."""

    kind: Kind
    text: str
    line: int | None = None


@dataclass(frozen=True)
class Day:
    number: int
    date: datetime.date
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Calendar:
    """Fourteen days beginning with today, and what comes after them or has no day of its own."""

    days: tuple[Day, ...]
    after: tuple[Item, ...]


def build_calendar(
    tasks: Sequence[Task],
    start: datetime.date,
    look_on: datetime.date | None = None,
    better: Sequence[tuple[int, str]] = (),
) -> Calendar:
    """Return the calendar from the day `start`. `better` says what should be seen after how many days.

    What is done today stands on day 1; what is done this week is spread over day 2 to 7 in the order of the
    plan, so that not everything changes at once; what waits for the first look stands on its day. Each task
    is done on one day only; what is repeated follows it. Two tasks that repeat the same say it once a day.
    """
    look = (look_on - start).days + 1 if look_on and look_on >= start else None
    begins = _begins(tasks, look)
    placed: list[tuple[int, Item]] = []
    for task in tasks:
        if (day := begins.get(task.line)) is not None:
            placed += [(day, Item("do", task.text, task.line)), *_follow(task, day)]
    if look is not None:
        placed.append((look, Item("look", "")))
    placed += [(days + 1, Item("better", text)) for days, text in better]
    after = [Item("do", task.text, task.line) for task in tasks if begins.get(task.line) is None]
    after += [item for day, item in placed if day > DAYS and item.kind in ("look", "do")]
    return Calendar(
        days=tuple(
            Day(number, start + datetime.timedelta(days=number - 1), _on(number, placed))
            for number in range(1, DAYS + 1)
        ),
        after=tuple(after),
    )


def _begins(tasks: Sequence[Task], look: int | None) -> dict[int, int]:
    """The day on which each task is done. A task that belongs to no day is left out."""
    week = [task.line for task in tasks if task.when == "this-week"]
    begins = {line: _WEEK_FROM + place * _WEEK_DAYS // len(week) for place, line in enumerate(week)}
    begins |= {task.line: 1 for task in tasks if task.when == "today"}
    begins |= {
        task.line: max(look or _WITHOUT_LOOK, 1) for task in tasks if task.waits and task.line not in begins
    }
    return begins


def _follow(task: Task, day: int) -> Iterator[tuple[int, Item]]:
    if task.again and task.every:
        for again in range(day + task.every, DAYS + 1, task.every):
            yield again, Item("again", task.again, task.line)
    if task.sign and task.sign_days:
        yield day + task.sign_days, Item("sign", task.sign, task.line)


def _on(number: int, placed: Sequence[tuple[int, Item]]) -> tuple[Item, ...]:
    items = [item for day, item in placed if day == number]
    items.sort(key=lambda item: _KINDS.index(item.kind))
    said: set[tuple[str, str]] = set()
    once = []
    for item in items:
        if item.kind == "do" or (item.kind, item.text) not in said:
            once.append(item)
        said.add((item.kind, item.text))
    return tuple(once)
