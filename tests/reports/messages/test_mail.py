"""What a mail is made of: headers, both texts, the plan, the entry for the calendar; and reminders."""

import email.policy
from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from html.parser import HTMLParser
from typing import Any

import pytest
from django.utils import timezone
from icalendar import Calendar

from consults.looks.reminding import looks_remind
from consults.models import FollowUp, Plan, Shop
from reports.messages.calendar import look_entry
from reports.messages.delivery import Drained, drain
from reports.messages.links import stop_token_read
from reports.messages.mail import mail_build
from reports.messages.services import message_retry
from reports.models import Message
from tests.reports.messages.making import (
    announce,
    make_case,
    make_grower,
    make_message,
    make_plan,
    make_staff,
)

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 16, 10, 0, tzinfo=UTC)  # the day before the look of `make_plan`


def built(message: Message) -> EmailMessage:
    raw = mail_build(Message.objects.get(pk=message.pk)).message().as_bytes()
    return email.message_from_bytes(raw, policy=email.policy.default)  # type: ignore[return-value]


def event(plan: Plan) -> Any:
    entry = look_entry(plan)
    assert entry is not None
    calendar = Calendar.from_ical(entry)
    assert (calendar["METHOD"], calendar["VERSION"]) == ("PUBLISH", "2.0")
    (found,) = calendar.walk("VEVENT")
    return found


# --- the mail -------------------------------------------------------------------------------------
def test_with_a_site_address_a_mail_has_the_link_in_its_head_and_under_both_texts(settings: Any) -> None:
    settings.SITE_URL = "https://desk.shop.example"
    message = make_message()
    mail = built(message)
    address = mail["List-Unsubscribe"].strip().strip("<>")
    assert address.startswith("https://desk.shop.example/reminders/stop/")
    assert stop_token_read(address.split("/")[-3]) == message
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    for kind in ("plain", "html"):
        assert "https://desk.shop.example/reminders/stop/" in mail.get_body((kind,)).get_content()


def test_without_one_a_mail_promises_no_link() -> None:
    mail = built(make_message())
    assert mail["List-Unsubscribe"] is None
    assert "reminders" not in mail.get_body(("plain",)).get_content()


def test_the_html_loads_nothing_names_its_language_and_has_one_heading(settings: Any) -> None:
    settings.SITE_URL = "https://desk.shop.example"
    tags: list[tuple[str, dict[str, Any]]] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attributes: Any) -> None:
            tags.append((tag, dict(attributes)))

    Reader().feed(built(make_message()).get_body(("html",)).get_content())
    names = [tag for tag, _attributes in tags]
    assert not {"img", "link", "script", "style", "iframe", "object"} & set(names)
    assert not any({"src", "style", "background"} & set(attributes) for _tag, attributes in tags)
    assert dict(tags)["html"] == {"lang": "en", "dir": "ltr"}
    assert names.count("h1") == names.count("main") == 1


def test_each_try_has_the_same_message_id_and_the_same_entry() -> None:
    message = make_message()
    first, second = built(message), built(message)
    assert first["Message-ID"] == second["Message-ID"] == message.message_id
    parts = [[part.get_content() for part in mail.iter_attachments()] for mail in (first, second)]
    assert parts[0] == parts[1]


# --- the entry for the calendar -------------------------------------------------------------------
def test_the_entry_is_a_whole_day_of_the_shop_with_what_a_calendar_needs() -> None:
    Shop.objects.create(pk=1, time_zone="Pacific/Auckland")
    plan = make_plan()
    found = event(plan)
    assert found["DTSTART"].dt == date(2026, 3, 17)
    assert found["DTEND"].dt == date(2026, 3, 18)
    assert found["DTSTAMP"].dt == plan.issued_at.replace(microsecond=0)
    assert (found["SEQUENCE"], found["STATUS"], found["TRANSP"]) == (0, "CONFIRMED", "TRANSPARENT")
    assert str(found["ORGANIZER"]) == "MAILTO:desk@bench.example"
    assert "The Potting Bench" in found["SUMMARY"]
    assert "+1 555 0100" in found["DESCRIPTION"]
    assert found["LOCATION"] == "1 Trough Lane, Upper Sill"
    assert b"X-WR-TIMEZONE:Pacific/Auckland" in look_entry(plan)


def test_the_next_version_moves_the_same_event_and_one_without_a_look_takes_it_back() -> None:
    first = make_plan()
    second = make_plan(case=first.case, version=2, look_again_on=date(2026, 3, 20))
    third = make_plan(case=first.case, version=3, look_again_on=None)
    events = [event(plan) for plan in (first, second, third)]
    assert len({str(found["UID"]) for found in events}) == 1
    assert [found["SEQUENCE"] for found in events] == [0, 1, 2]
    assert [found["DTSTART"].dt.day for found in events] == [17, 20, 20]
    assert [found["STATUS"] for found in events] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert str(event(make_plan())["UID"]) != str(events[0]["UID"])


def test_a_case_that_never_had_a_look_has_no_entry() -> None:
    plan = make_plan(look_again_on=None)
    announce(plan)
    parts = [part.get_content_type() for part in built(Message.objects.get(plan=plan)).iter_attachments()]
    assert parts == ["application/pdf"]


def test_the_entry_goes_as_its_own_part_that_names_its_method() -> None:
    part = list(built(make_message()).iter_attachments())[1]
    assert part.get_content_type() == "text/calendar"
    assert part["Content-Type"].params["method"] == "PUBLISH"
    assert part.get_filename() == "next-look.ics"


def test_words_of_the_shop_cannot_write_lines_of_their_own_into_the_entry() -> None:
    plan = make_plan(shop={"name": 'Bench\r\nATTENDEE:MAILTO:x@y.example"', "phone": "1\nSTATUS:CANCELLED"})
    entry = look_entry(plan)
    assert b"\r\nATTENDEE" not in entry
    assert entry.count(b"\r\nSTATUS:") == 1
    assert event(plan)["STATUS"] == "CONFIRMED"


# --- withheld -------------------------------------------------------------------------------------
def test_a_plan_does_not_go_to_an_address_the_grower_gave_up(eml_folder: Any) -> None:
    message = make_message()
    grower = message.plan.case.grower
    grower.email = "new@home.example"
    grower.save()
    assert drain(worker="test") == Drained(withheld=1)
    message_retry(message=Message.objects.get(pk=message.pk), by=make_staff())
    assert drain(worker="test") == Drained(sent=1)
    assert Message.objects.get(pk=message.pk).to == "new@home.example"


def test_who_wants_no_reminders_still_gets_the_plan_they_asked_for(eml_folder: Any) -> None:
    make_message()
    grower = Message.objects.get().plan.case.grower
    grower.reminders_stopped_at, grower.reminders_stopped_how = timezone.now(), "by-link"
    grower.save()
    assert drain(worker="test") == Drained(sent=1)


# --- reminders ------------------------------------------------------------------------------------
def mailed_plan(**changes: Any) -> Plan:
    case = make_case(make_grower(**changes))
    plan = make_plan(case=case, issued_at=datetime(2026, 3, 10, tzinfo=UTC))
    announce(plan)
    Message.objects.filter(plan=plan).update(state="sent", sent_at=timezone.now())
    FollowUp.objects.create(plan=plan, due_on=plan.look_again_on)
    return plan


def test_the_day_before_a_look_one_reminder_goes_out_without_the_plan(eml_folder: Any) -> None:
    plan = mailed_plan()
    assert looks_remind(now=MORNING - timedelta(days=1)) == 0
    assert looks_remind(now=MORNING - timedelta(hours=2)) == 0  # eight in the morning
    assert looks_remind(now=MORNING) == 1
    assert looks_remind(now=MORNING) == 0
    reminder = Message.objects.get(kind="reminder")
    assert (reminder.plan, reminder.to) == (plan, plan.case.grower.email)
    assert "Tuesday 17 March 2026" in reminder.body
    kinds = [part.get_content_type() for part in built(reminder).iter_attachments()]
    assert kinds == ["text/calendar"]
    assert drain(worker="test") == Drained(sent=1)


def test_the_morning_is_the_shop_s() -> None:
    Shop.objects.create(pk=1, time_zone="Pacific/Auckland")
    mailed_plan()
    assert looks_remind(now=MORNING - timedelta(hours=15)) == 0  # 8:00 there on the 16th, in UTC the 15th
    assert looks_remind(now=MORNING - timedelta(hours=13)) == 1


@pytest.mark.parametrize(
    "facts",
    [
        {"email_consent_at": None},
        {"reminders_stopped_at": timezone.now(), "reminders_stopped_how": "by-link"},
        {"email_unreachable_at": timezone.now(), "email_unreachable_why": "5.1.1"},
    ],
)
def test_who_may_not_be_reminded_is_not(facts: dict[str, Any], eml_folder: Any) -> None:
    plan = mailed_plan()
    grower = plan.case.grower
    for name, value in facts.items():
        setattr(grower, name, value)
    grower.save()
    assert looks_remind(now=MORNING) == 0


def test_a_reminder_that_waits_when_they_end_reminders_is_withheld(eml_folder: Any) -> None:
    plan = mailed_plan()
    looks_remind(now=MORNING)
    grower = plan.case.grower
    grower.reminders_stopped_at, grower.reminders_stopped_how = timezone.now(), "by-link"
    grower.save()
    assert drain(worker="test") == Drained(withheld=1)
    assert "wants no reminders" in Message.objects.get(kind="reminder").last_error


def test_a_reminder_of_a_look_that_is_done_is_withheld(eml_folder: Any) -> None:
    plan = mailed_plan()
    looks_remind(now=MORNING)
    FollowUp.objects.filter(plan=plan).update(done_at=timezone.now(), progress="better")
    assert drain(worker="test") == Drained(withheld=1)


def test_a_plan_that_was_printed_and_never_mailed_gets_no_reminder() -> None:
    plan = make_plan(issued_at=datetime(2026, 3, 10, tzinfo=UTC))
    FollowUp.objects.create(plan=plan, due_on=plan.look_again_on)
    assert looks_remind(now=MORNING) == 0
