"""Loads the demo shop: an invented place, people and gardens, to look around in."""

import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

import consults.ruleset
from consults.cases.casefile import read_case_file
from consults.cases.rows import case_import
from consults.models import Case, Question, Shop
from consults.ruleset.loader import load_bundled
from garden.access import Role
from garden.models import Staff
from garden.reference.loader import load_reference

FOLDER = Path(consults.ruleset.__file__).parent / "cases"
LOGINS = [
    ("counter", "wet-hands-2026", Role.COUNTER, "Ilse", "Brandt"),
    ("consultant", "root-slip-2026", Role.CONSULTANT, "Tomas", "Okoro"),
    ("manager", "green-thread-2026", Role.MANAGER, "Ada", "Lindqvist"),
]
SHOP = {
    "name": "The Wet Bench",
    "address": "4 Weir Lane\nMillbrook",
    "phone": "+1 555 0100",
    "email": "bench@example.com",
    "opening_hours": "Tuesday to Saturday, 10 to 18",
    "time_zone": "Europe/Vienna",
    "consult_fee_minor": 4500,
}
# Growers of our own invention; the plants' troubles are those of the reference cases.
CASES = {
    "white-crust-brown-tips": ("Jonas Merrow", "+1 555 0111", "jonas.merrow@example.com"),
    "leggy-seedlings": ("Priya Valdane", "+1 555 0112", "priya.valdane@example.com"),
    "warm-raft-brown-roots": ("Ottoline Fisk", "+1 555 0113", ""),
    "bleached-top-leaves": ("Sam Abernethy-Cho", "+1 555 0114", "sam.cho@example.com"),
}
QUESTIONS = [
    ("Can I put tap water straight into my bucket?", ""),
    ("My basil gets black spots on the window sill in winter.",
     "Basil is hurt by cold. Move it off the glass and keep it above 15 °C at night."),
    ("How often should I change the water for lettuce on a raft?", ""),
]  # fmt: skip


class Command(BaseCommand):
    help = "Loads the demo shop and its logins. Safe to repeat. Refused where demo accounts are not allowed."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO_ACCOUNTS_ALLOWED:
            raise CommandError("Demo accounts have published passwords and are not allowed in production.")
        with transaction.atomic():
            _load_shop()
            staff = [_load_login(*login) for login in LOGINS]
            _load_cases(staff[0])
            _load_questions(staff[0])
        self.stdout.write("Demo logins (name / password):")
        for name, password, role, *_rest in LOGINS:
            self.stdout.write(f"  {name} / {password}   {role.label}")


def _load_shop() -> None:
    if not Shop.objects.exists():
        Shop.objects.create(pk=1, **SHOP)


def _load_login(username: str, password: str, role: Role, first: str, last: str) -> Staff:
    staff, created = Staff.objects.get_or_create(
        username=username, defaults={"role": role, "first_name": first, "last_name": last, "is_demo": True}
    )
    if created:
        staff.set_password(password)
        staff.save()
    return staff


def _load_cases(by: Staff) -> None:
    now = timezone.now()
    for days, (name, (grower, phone, email)) in enumerate(CASES.items()):
        casefile = read_case_file(FOLDER / f"{name}.json", load_reference(), load_bundled())
        part = casefile.grower.model_copy(update={"name": grower, "phone": phone, "email": email or None})
        case = case_import(
            casefile=casefile.model_copy(update={"grower": part, "expected": None}), by=by, consent=True
        )
        Case.objects.filter(pk=case.pk, plans=None).update(
            opened_at=now - datetime.timedelta(days=days, hours=2)
        )


def _load_questions(by: Staff) -> None:
    if Question.objects.exists():
        return
    for hours, (words, answer) in enumerate(QUESTIONS):
        asked = timezone.now() - datetime.timedelta(hours=hours * 3)
        Question.objects.create(
            words=words, answer=answer, asked_at=asked, answered_at=asked if answer else None, logged_by=by
        )
