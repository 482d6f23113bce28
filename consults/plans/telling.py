"""What a plan says of each line beyond its words: how to know it worked, when to stop; and its calendar.

Everything comes back as plain data, in the active language, for the snapshot.
"""

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils import formats
from django.utils.translation import gettext as _

from consults.cases.describe import spoken_date
from consults.choices import When
from consults.models import PlanAction
from consults.plans.calendar import Item, Task, build_calendar
from consults.plans.labels import RUNGS, rung_of_line
from consults.plans.ways import way_of
from consults.ruleset.schema import Cause
from garden.reference.schema import text


def tell_action(
    action: PlanAction,
    causes: Mapping[str, Cause],
    start: datetime.date,
    language: str,
    texts: Mapping[str, str],
) -> dict[str, Any]:
    """The parts of a line of the plan that follow from its action: `worked` and `stop` are never empty.
    `texts` are the texts of the plan's lines by code."""
    days = days_of(action, causes)
    # What is done later has no day yet, so nobody can say by when it must have worked.
    dated = days and action.when != When.LATER
    by = spoken_date(start + datetime.timedelta(days=days)) if days and dated else ""
    return {
        "worked": action.worked_when or _sign(action, causes, language),
        "worked_by": by,
        "stop": action.stop_when or _stop(action, by),
        "reversible": action.reversible,
        "order": str(RUNGS[rung_of_line(action)]),
        "waits_for": texts.get(action.waits_for, "") if action.waits_for else "",
        "shop_words": action.shop_words,
    }


def days_of(action: PlanAction, causes: Mapping[str, Cause]) -> int | None:
    """After how many days a line shows whether it worked; None when nobody can say."""
    own = way_of(action.code).days
    if own is not None:
        return own
    return min((causes[code].better.days for code in action.causes if code in causes), default=None)


def tell_calendar(
    kept: Sequence[PlanAction],
    causes: Mapping[str, Cause],
    start: datetime.date,
    look_on: datetime.date | None,
    better: Sequence[tuple[int, str]],
    language: str,
) -> dict[str, Any]:
    """The first two weeks as plain data. `line` is the number of the line among the plan's actions."""
    tasks = [_task(number, action, causes, language) for number, action in enumerate(kept)]
    calendar = build_calendar(tasks, start, look_on, better)
    return {
        "start": start.isoformat(),
        "days": [
            {
                "day": day.number,
                "date": day.date.isoformat(),
                "weekday": formats.date_format(day.date, "l"),
                "shown": formats.date_format(day.date, "j F"),
                "items": [_item(item, kept, look_on) for item in day.items],
            }
            for day in calendar.days
        ],
        "after": [_item(item, kept, look_on) for item in calendar.after],
    }


def _task(number: int, action: PlanAction, causes: Mapping[str, Cause], language: str) -> Task:
    way = way_of(action.code)
    return Task(
        line=number,
        text=action.text,
        when=action.when,
        waits=bool(action.waits_for),
        sign=action.worked_when if way.shows or way.aim else "",
        sign_days=days_of(action, causes),
        again=text(way.again.text, language) if way.again else "",
        every=way.again.every if way.again else None,
    )


def _item(item: Item, kept: Sequence[PlanAction], look_on: datetime.date | None) -> dict[str, Any]:
    amount = kept[item.line].quantity if item.kind == "do" and item.line is not None else ""
    said = item.text
    if item.kind == "look":
        day = spoken_date(look_on) if look_on else ""
        said = _("We look again together, on %(day)s. Bring a picture and what you wrote down.") % {
            "day": day
        }
    return {"kind": item.kind, "text": said, "amount": amount, "line": item.line}


def _sign(action: PlanAction, causes: Mapping[str, Cause], language: str) -> str:
    found = next((causes[code] for code in action.causes if code in causes), None)
    if found is not None:
        return text(found.better.text, language)
    return _("By the next look you can see the difference that it was meant to make.")


def _stop(action: PlanAction, by: str) -> str:
    way = way_of(action.code)
    if action.code and not (way.shows or way.aim or action.buys or action.quantity_code):
        return _("If you are not sure what you see or do, leave it and call us.")
    if by:
        return _("If it gets worse, or nothing has changed by %(day)s, stop and call us.") % {"day": by}
    return _("If it gets worse, stop and call us.")
