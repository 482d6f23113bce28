"""The reminder of a look in the outbox: once, with the grower's own link, and only where it may go."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from consults.choices import ReminderKind
from consults.looks.reminding import looks_remind
from consults.looks.services import check_in_for, link_revoke
from consults.models import FollowUp, LookReminder, Plan
from reports.messages.mail import mail_build
from reports.models import Message
from tests.consults.rules.conftest import together  # noqa: F401 - a fixture
from tests.reports.messages.making import announce, make_case, make_grower, make_plan, make_staff

pytestmark = pytest.mark.django_db
THE_DAY = date(2026, 3, 17)  # the look of `make_plan`
DAY_BEFORE = datetime(2026, 3, 16, 10, 0, tzinfo=UTC)
ON_THE_DAY = DAY_BEFORE + timedelta(days=1)


def mailed_plan(**changes: Any) -> Plan:
    plan = make_plan(case=make_case(make_grower(**changes)), issued_at=datetime(2026, 3, 10, tzinfo=UTC))
    announce(plan)
    Message.objects.filter(plan=plan).update(state="sent", sent_at=timezone.now())
    FollowUp.objects.create(plan=plan, due_on=plan.look_again_on)
    return plan


def bodies() -> list[str]:
    return [message.body for message in Message.objects.filter(kind="reminder").order_by("pk")]


def test_the_day_before_it_says_tomorrow_and_on_the_day_today() -> None:
    mailed_plan()
    for moment in (DAY_BEFORE, DAY_BEFORE, ON_THE_DAY, ON_THE_DAY):
        looks_remind(now=moment)
    before, today = bodies()
    assert "tomorrow, Tuesday 17 March 2026" in before and "today, Tuesday 17 March 2026" in today


def test_the_link_in_the_mail_opens_the_form(settings: Any) -> None:
    settings.SITE_URL = "https://desk.shop.example"
    mailed_plan()
    looks_remind(now=DAY_BEFORE)
    found = re.search(r"https://desk\.shop\.example(/check-in/\S+)", bodies()[0])
    assert found and Client().get(found[1]).status_code == 200


def test_without_an_address_of_the_site_there_is_no_link(settings: Any) -> None:
    settings.SITE_URL = ""
    mailed_plan()
    looks_remind(now=DAY_BEFORE)
    assert "check-in" not in bodies()[0] and "Bring photos" in bodies()[0]


def test_a_link_that_was_taken_back_is_not_sent(settings: Any) -> None:
    settings.SITE_URL = "https://desk.shop.example"
    plan = mailed_plan()
    link_revoke(check_in=check_in_for(plan.follow_up), by=make_staff())
    looks_remind(now=DAY_BEFORE)
    assert "check-in" not in bodies()[0]


def test_a_reminder_names_the_grower_by_the_first_name() -> None:
    plan = mailed_plan(name="Nell Farrow")
    looks_remind(now=DAY_BEFORE)
    assert bodies()[0].startswith("Hello Nell,") and plan.case.grower.name not in bodies()[0]


def test_a_plan_that_never_went_by_mail_does_not_count_as_reminded() -> None:
    plan = make_plan(issued_at=datetime(2026, 3, 10, tzinfo=UTC))
    FollowUp.objects.create(plan=plan, due_on=plan.look_again_on)
    assert looks_remind(now=DAY_BEFORE) == 0
    assert not LookReminder.objects.filter(went_out=True).exists() and bodies() == []


def test_a_look_moved_to_another_day_carries_no_entry_of_the_old_one() -> None:
    plan = mailed_plan()
    FollowUp.objects.filter(plan=plan).update(due_on=THE_DAY + timedelta(days=7))
    looks_remind(now=DAY_BEFORE + timedelta(days=7))
    reminder = Message.objects.get(kind="reminder")
    assert "24 March 2026" in reminder.body
    assert not mail_build(reminder).attachments


def test_a_message_that_cannot_be_written_leaves_no_note(monkeypatch: pytest.MonkeyPatch) -> None:
    mailed_plan()

    def broken(*args: Any) -> str:
        raise ValueError("no words")

    monkeypatch.setattr("reports.messages.reminders._body", broken)
    assert looks_remind(now=DAY_BEFORE) == 0
    assert not LookReminder.objects.exists() and bodies() == []
    monkeypatch.undo()
    assert looks_remind(now=DAY_BEFORE) == 1


@pytest.mark.django_db(transaction=True)
def test_two_runs_at_once_write_one_mail(together: Any) -> None:  # noqa: F811
    mailed_plan()
    results = together(*[lambda: looks_remind(now=DAY_BEFORE)] * 3)
    assert sorted(results) == [0, 0, 1]
    assert len(bodies()) == 1 and LookReminder.objects.get().kind == ReminderKind.DAY_BEFORE
