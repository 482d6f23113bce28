"""The first two weeks of a plan, day by day."""

import datetime
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from consults.plans.calendar import DAYS, Calendar, Task, build_calendar

START = datetime.date(2026, 3, 1)
TIMES = st.sampled_from(["today", "this-week", "later"])


@st.composite
def plans(draw: st.DrawFn) -> list[Task]:
    count = draw(st.integers(0, 9))
    tasks = []
    for line in range(count):
        when = draw(TIMES)
        every = draw(st.none() | st.integers(1, 9))
        tasks.append(
            Task(
                line=line,
                text=f"do {line}",
                when=when,
                waits=when == "later" and draw(st.booleans()),
                sign=draw(st.sampled_from(["", f"sign {line}", "the same sign"])),
                sign_days=draw(st.none() | st.integers(1, 40)),
                again=draw(st.sampled_from([f"again {line}", "measure the pH"])) if every else "",
                every=every,
            )
        )
    return tasks


def days_with(found: Calendar, kind: str, text: str | None = None) -> list[int]:
    return [
        day.number
        for day in found.days
        for item in day.items
        if item.kind == kind and text in (None, item.text)
    ]


@given(plans(), st.none() | st.integers(-3, 40), st.lists(st.tuples(st.integers(1, 40), st.just("better"))))
def test_it_covers_fourteen_days_and_does_every_task_exactly_once(
    tasks: list[Task], look: int | None, better: list[tuple[int, str]]
) -> None:
    look_on = START + datetime.timedelta(days=look) if look is not None else None
    found = build_calendar(tasks, START, look_on, better)
    assert [day.number for day in found.days] == list(range(1, DAYS + 1))
    assert [day.date for day in found.days] == [START + datetime.timedelta(days=n) for n in range(DAYS)]
    done = Counter(item.line for day in found.days for item in day.items if item.kind == "do")
    done += Counter(item.line for item in found.after if item.kind == "do")
    assert done == Counter(task.line for task in tasks)
    for day in found.days:
        repeated = Counter(item.text for item in day.items if item.kind == "again")
        assert set(repeated.values()) <= {1}, "said once a day"


@given(plans(), st.integers(1, 13))
def test_the_same_plan_gives_the_same_calendar_and_each_task_stands_in_its_time(
    tasks: list[Task], look: int
) -> None:
    look_on = START + datetime.timedelta(days=look)
    found = build_calendar(tasks, START, look_on)
    assert found == build_calendar(tasks, START, look_on)
    for task in tasks:
        days = days_with(found, "do", task.text)
        if task.when == "today":
            assert days == [1]
        elif task.when == "this-week":
            assert len(days) == 1 and 2 <= days[0] <= 7
        else:
            assert days == ([look + 1] if task.waits else [])


def test_what_is_done_this_week_is_spread_in_the_order_of_the_plan() -> None:
    tasks = [Task(line, f"do {line}", "this-week") for line in range(3)]
    found = build_calendar(tasks, START)
    assert [days_with(found, "do", task.text) for task in tasks] == [[2], [4], [6]]


def test_what_is_repeated_follows_its_task_to_the_end_of_the_fortnight() -> None:
    found = build_calendar([Task(0, "dry", "today", again="lift the pot", every=3)], START)
    assert days_with(found, "again") == [4, 7, 10, 13]


def test_signs_the_look_and_what_better_looks_like_stand_on_their_days() -> None:
    found = build_calendar(
        [Task(0, "dry", "today", sign="lighter", sign_days=4)],
        START,
        START + datetime.timedelta(days=3),
        [(7, "leaves stand")],
    )
    assert (days_with(found, "sign"), days_with(found, "look"), days_with(found, "better")) == ([5], [4], [8])


def test_a_look_after_the_fortnight_and_what_waits_for_it_stand_after_the_days() -> None:
    tasks = [Task(0, "feed", "later", waits=True), Task(1, "next pot", "later")]
    found = build_calendar(tasks, START, START + datetime.timedelta(days=20))
    assert [(item.kind, item.line) for item in found.after] == [("do", 1), ("do", 0), ("look", None)]
    assert all(not day.items for day in found.days)


def test_without_a_look_what_waits_begins_in_the_second_week() -> None:
    assert days_with(build_calendar([Task(0, "feed", "later", waits=True)], START), "do") == [8]
