"""What the tests of this room are made from: a shop's person, a grower, an issued plan, its mail."""

import itertools
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from consults.models import Case, Plan
from consults.signals import plan_issued
from garden.models import Garden, Grower, Planting, Space, Staff
from reports.models import Message

_numbers = itertools.count(1)

SHOP = {
    "name": "The Potting Bench",
    "address": "1 Trough Lane\nUpper Sill",
    "phone": "+1 555 0100",
    "email": "desk@bench.example",
    "opening_hours": "9 to 18",
    "paper": "A4",
}
_EMPTY = ("seen", "not_seen", "practices", "readings", "causes", "other_causes", "next_checks", "workings")
_EMPTY += ("cautions", "better", "photos")
_ACTION = {
    "text": "Let the pot dry until it is light.",
    "quantity": "",
    "why": "Roots need air.",
    "stop_when": "",
}


def make_staff(role: str = "consultant") -> Staff:
    return Staff.objects.create_user(f"{role}-{next(_numbers)}", password="long enough to pass", role=role)


def make_grower(**changes: Any) -> Grower:
    facts = {
        "name": "Ida Moss",
        "email": f"ida{next(_numbers)}@home.example",
        "email_consent_at": timezone.now(),
    }
    return Grower.objects.create(**{**facts, **changes})


def make_case(grower: Grower) -> Case:
    garden = Garden.objects.create(grower=grower)
    space = Space.objects.create(garden=garden, kind="tent")
    return Case.objects.create(grower=grower, planting=Planting.objects.create(space=space, crop="basil"))


def make_snapshot(case: Case, **shop: Any) -> dict[str, Any]:
    return {
        "plan_snapshot": 1,
        "language": "en",
        "shop": {**SHOP, **shop},
        "grower": {"name": case.grower.name},
        "case": {
            **dict.fromkeys(("crop", "stage", "system", "medium", "garden"), ""),
            "number": case.pk,
            "opened_on": "12 March 2026",
            "story": "The leaves hang.",
            "onset_days": None,
        },
        "plan": {
            "version": 1,
            "date": "14 March 2026",
            "by": "Ada",
            "greeting": "",
            "look_again_on": "17 March 2026",
            "draft": False,
            "supersedes": None,
        },
        **{part: [] for part in _EMPTY},
        "enough_to_tell": True,
        "fit": "fits",
        "actions": [{**_ACTION, "when": "today", "buys": False}],
        "ruleset": "0a1b2c3d4e5f",
    }


def make_plan(*, grower: Grower | None = None, shop: dict[str, Any] | None = None, **changes: Any) -> Plan:
    """An issued plan, as it stands in the database right before the news of it goes out."""
    case = changes.pop("case", None) or make_case(grower or make_grower())
    facts = {
        "version": 1,
        "status": "issued",
        "issued_at": timezone.now(),
        "issued_by": make_staff(),
        "look_again_on": date(2026, 3, 17),
        "snapshot": make_snapshot(case, **(shop or {})),
        "snapshot_sha256": "0" * 64,
    }
    return Plan.objects.create(case=case, **{**facts, **changes})


def announce(plan: Plan, *, send_email: bool = True) -> None:
    """Send the news that issuing a plan sends."""
    with transaction.atomic():
        plan_issued.send(sender=Plan, plan=plan, send_email=send_email, by=plan.issued_by)


def make_message(**changes: Any) -> Message:
    """A message of an issued plan that waits to be sent."""
    plan = make_plan()
    announce(plan)
    Message.objects.filter(plan=plan).update(**changes)
    return Message.objects.get(plan=plan)
