"""Issued plans whose look is near, and browsers that look at them."""

import datetime
import itertools
import re
from typing import Any

from django.test import Client
from django.utils import timezone

from consults.looks.links import check_in_path
from consults.looks.services import check_in_for
from consults.models import Case, CheckIn, FollowUp, Plan
from tests.consults.plans.making import POTS, make_issued, make_wet_case

_number = itertools.count(1)


def make_new_case(**parts: Any) -> Case:
    """A case of its own each time: the same case file again would be the same case."""
    return make_wet_case(consent=True, **{"story": f"They droop, for the {next(_number)}th time.", **parts})


def make_look(*, due_in: int = 0, issued_ago: int = 7, **parts: Any) -> FollowUp:
    """The open look of a plan issued some days ago, due in so many days (of the zone in force)."""
    plan = make_issued(make_new_case(**parts))
    return put_on(plan, timezone.localdate() + datetime.timedelta(days=due_in), issued_ago)


def put_on(plan: Plan, day: datetime.date, issued_ago: int = 7) -> FollowUp:
    """Move the look of a plan to a day, and its issue into the past, past the guards of issued plans."""
    from consults.models.guards import install_guards, remove_guards

    remove_guards()
    Plan.objects.filter(pk=plan.pk).update(issued_at=timezone.now() - datetime.timedelta(days=issued_ago))
    install_guards()
    plan.case.readings.update(taken_at=timezone.now() - datetime.timedelta(days=issued_ago + 1))
    FollowUp.objects.filter(plan=plan).update(due_on=day)
    return FollowUp.objects.select_related("plan__case__grower").get(plan=plan)


def make_check_in(look: FollowUp | None = None) -> CheckIn:
    return check_in_for(look or make_look())


def path_of(look: FollowUp) -> str:
    return check_in_path(check_in_for(look))


def grower_of(look: FollowUp, **changes: Any) -> Any:
    grower = look.plan.case.grower
    for name, value in changes.items():
        setattr(grower, name, value)
    grower.save()
    return grower


def answers(look: FollowUp, **more: Any) -> dict[str, Any]:
    """What a grower who did everything sends, without scripts."""
    lines = look.plan.actions.filter(included=True)
    sent: dict[str, Any] = {f"done-{line.pk}": "done" for line in lines}
    sent |= {"change-medium-stays-wet": "better", "progress": "better", "words": "New leaves are green."}
    sent |= {"read-root_zone_ph": "6.2", "read-air_temp_c": "23", "read-rh_percent": "60"}
    return {**sent, **more}


def words_of(answer: Any) -> str:
    """What a reader sees of a page."""
    text = re.sub(r"</?bdi>", "", answer.content.decode())
    text = re.sub(r"<(script|style)\b.*?</\1>|<[^>]*>", " ", text, flags=re.S)
    return " ".join(text.split())


def another_name(name: str, **parts: Any) -> dict[str, Any]:
    """Parts of a case file for a grower of this name."""
    return {
        "grower": {**POTS["grower"], "name": name, "email": f"{name.split()[0].lower()}@home.example"},
        **parts,
    }


def phone() -> Client:
    """A grower's browser: nobody signed in."""
    return Client()
