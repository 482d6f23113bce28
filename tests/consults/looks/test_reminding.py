"""Who is reminded when: by the shop's clock, once, and only those who may be; who is silent."""

import datetime
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from consults.choices import ReminderKind
from consults.looks.reminding import looks_remind
from consults.looks.services import check_in_for, check_in_send
from consults.looks.states import OVERDUE, SILENT, TODAY, state_of, with_answers
from consults.looks.tasks import remind
from consults.models import CheckIn, FollowUp, LookReminder, Shop
from consults.shop.panels import looks_panel
from consults.signals import look_due
from tests.consults.looks.making import grower_of, make_check_in, make_look, make_new_case, put_on, words_of
from tests.consults.plans.making import make_issued
from tests.consults.rules.conftest import together  # noqa: F401 - a fixture
from tests.factories import client_of

pytestmark = pytest.mark.django_db
DAY = datetime.date(2026, 6, 10)


@pytest.fixture
def heard():
    """A floor above that reminds everybody: the kinds it was told of."""
    kinds = []

    def hear(sender, *, look, check_in, kind, **kwargs):
        assert (check_in.plan_id, check_in.due_on) == (look.plan_id, look.due_on)
        kinds.append(kind)
        return True

    look_due.connect(hear)
    yield kinds
    look_due.disconnect(hear)


@pytest.fixture
def look():
    return on_the_day()


def on_the_day(day: datetime.date = DAY) -> FollowUp:
    """A look due on a day of 2026, of a plan issued well before."""
    days = (timezone.localdate() - day).days + 14
    return put_on(make_issued(make_new_case()), day, issued_ago=days)


def shop(zone: str = "Europe/Vienna", **values) -> Shop:
    return Shop.objects.update_or_create(pk=1, defaults={"time_zone": zone, **values})[0]


def at(hour: float, day: datetime.date = DAY, zone: str = "Europe/Vienna") -> datetime.datetime:
    midnight = datetime.datetime.combine(day, datetime.time(), ZoneInfo(zone))
    return midnight.replace(hour=int(hour), minute=round(hour % 1 * 60))


def before(days: int) -> datetime.date:
    return DAY - datetime.timedelta(days=days)


def test_a_grower_is_reminded_the_day_before_and_on_the_day(look, heard):
    shop()
    for moment in (
        at(12, before(2)),
        at(8.9, before(1)),
        at(9, before(1)),
        at(20, before(1)),
        at(9.1),
        at(22),
    ):
        looks_remind(now=moment)
    assert heard == [ReminderKind.DAY_BEFORE, ReminderKind.ON_THE_DAY]


def test_the_shop_says_which_days_and_from_what_hour(look, heard):
    shop(remind_day_before=False, remind_from_hour=17)
    for moment in (at(18, before(1)), at(16.9)):
        assert looks_remind(now=moment) == 0
    assert looks_remind(now=at(17)) == 1
    assert heard == [ReminderKind.ON_THE_DAY]


def test_the_day_is_the_shops_day_wherever_the_server_stands(look, heard):
    # 10 June 9:30 in Auckland (UTC+12) is 9 June 21:30 UTC (IANA time zone database).
    shop("Pacific/Auckland", remind_day_before=False)
    assert looks_remind(now=datetime.datetime(2026, 6, 9, 20, 30, tzinfo=datetime.UTC)) == 0
    assert looks_remind(now=datetime.datetime(2026, 6, 9, 21, 30, tzinfo=datetime.UTC)) == 1


@pytest.mark.parametrize("day", [datetime.date(2026, 3, 29), datetime.date(2026, 10, 25)])
def test_when_the_clocks_change_nine_is_still_nine_and_nobody_is_reminded_twice(day, heard):
    # In Vienna clocks went from 2 to 3 on 29 March 2026 and from 3 to 2 on 25 October (IANA database).
    on_the_day(day)
    shop(remind_day_before=False)
    start = at(0, day).astimezone(datetime.UTC)
    hits = [
        moment
        for moment in (start + datetime.timedelta(minutes=15 * step) for step in range(4 * 25))
        if looks_remind(now=moment)
    ]
    assert [hit.astimezone(ZoneInfo("Europe/Vienna")).hour for hit in hits] == [9]


def test_an_hour_that_the_clocks_skip_comes_with_the_next_one(heard):
    day = datetime.date(2026, 3, 29)
    on_the_day(day)
    shop(remind_day_before=False, remind_from_hour=2)
    assert looks_remind(now=datetime.datetime(2026, 3, 29, 0, 59, tzinfo=datetime.UTC)) == 0
    assert looks_remind(now=datetime.datetime(2026, 3, 29, 1, 0, tzinfo=datetime.UTC)) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"email_consent_at": None},
        {"email_unreachable_at": timezone.now()},
        {"reminders_stopped_at": timezone.now(), "reminders_stopped_how": "told-us"},
        {"email": "", "email_consent_at": None},
    ],
)
def test_whoever_may_not_be_reminded_is_not(look, heard, changes):
    shop()
    grower_of(look, **changes)
    assert looks_remind(now=at(10)) == 0 and heard == []
    assert not LookReminder.objects.exists()


def test_whoever_answered_is_reminded_no_more(look, heard):
    shop()
    assert looks_remind(now=at(10, before(1))) == 1
    send(look)
    assert looks_remind(now=at(10)) == 0


def send(look: FollowUp) -> None:
    check_in_send(
        check_in=check_in_for(look),
        actions_done={},
        changes={},
        progress="same",
        words="",
        readings=[],
        by=None,
    )


def test_a_look_that_is_done_reminds_nobody(look, heard):
    shop()
    FollowUp.objects.update(done_at=timezone.now(), progress="better")
    assert looks_remind(now=at(10)) == 0


def test_a_plan_issued_today_says_itself_when_we_look_again(heard):
    plan = make_issued(make_new_case())
    zone = shop("Pacific/Chatham").time_zone
    today = timezone.localdate(timezone=ZoneInfo(zone))
    FollowUp.objects.update(due_on=today + datetime.timedelta(days=1))
    assert looks_remind(now=at(23, today, zone)) == 0
    put_on(plan, today + datetime.timedelta(days=1), issued_ago=2)
    assert looks_remind(now=at(23, today, zone)) == 1


def test_a_look_moved_to_another_day_is_reminded_of_anew(look, heard):
    shop(remind_day_before=False)
    looks_remind(now=at(10))
    later = DAY + datetime.timedelta(days=7)
    FollowUp.objects.update(due_on=later)
    assert looks_remind(now=at(10, later)) == 1
    assert CheckIn.objects.count() == LookReminder.objects.count() == 2


def test_where_nobody_above_reminds_nobody_counts_as_reminded(look):
    shop()
    receivers, look_due.receivers = look_due.receivers, []
    look_due.sender_receivers_cache.clear()
    try:
        assert looks_remind(now=at(10)) == 0
    finally:
        look_due.receivers = receivers
        look_due.sender_receivers_cache.clear()
    assert LookReminder.objects.get().went_out is False


def test_one_look_that_fails_is_tried_again_and_keeps_no_other_waiting(look):
    other, failing = on_the_day(), [True]
    shop(remind_day_before=False)

    def hear(sender, *, look: FollowUp, **kwargs):
        if failing and look.pk != other.pk:
            raise ValueError("the mail cannot be written")
        return True

    look_due.connect(hear)
    try:
        assert looks_remind(now=at(10)) == 1
        assert LookReminder.objects.get().check_in.plan == other.plan
        failing.clear()
        assert looks_remind(now=at(11)) == 1
    finally:
        look_due.disconnect(hear)


def test_the_command_and_the_schedule_do_the_same(heard, capsys):
    make_look(due_in=0)
    shop("Pacific/Chatham", remind_day_before=False, remind_from_hour=0)
    call_command("remind")
    assert "1 reminder written." in capsys.readouterr().out
    remind()
    assert len(heard) == 1


@pytest.mark.django_db(transaction=True)
def test_two_runs_at_once_remind_once(together, heard):  # noqa: F811
    looks = [on_the_day() for _ in range(3)]
    shop(remind_day_before=False)
    counts = together(*[lambda: looks_remind(now=at(10))] * 4)
    assert sum(counts) == len(looks) == len(heard) == LookReminder.objects.count(), counts


@pytest.mark.django_db(transaction=True)
def test_two_sendings_at_once_are_kept_once(together):  # noqa: F811
    look = on_the_day()
    check_in = make_check_in(look)

    def sending():
        return check_in_send(
            check_in=check_in, actions_done={}, changes={}, progress="same", words="x", readings=[], by=None
        )

    results = together(sending, sending)
    assert all(isinstance(result, CheckIn) for result in results), results
    assert CheckIn.objects.get().history.filter(words="x").count() == 1


# --- silent ---------------------------------------------------------------------------------------
def state(look: FollowUp, moment: datetime.datetime, zone: str = "Europe/Vienna") -> str:
    day = timezone.localdate(moment, ZoneInfo(zone))
    return state_of(with_answers(FollowUp.objects.filter(pk=look.pk)).get(), day)


def test_whoever_was_reminded_and_did_not_answer_is_silent_when_the_day_is_over(look, heard):
    shop()
    looks_remind(now=at(10, before(1)))
    assert state(look, at(23.9)) == TODAY
    assert state(look, at(0, DAY + datetime.timedelta(days=1))) == SILENT
    send(look)
    assert state(look, at(0, DAY + datetime.timedelta(days=1))) == "answered"


def test_whoever_was_never_reminded_is_overdue_and_not_silent(look):
    assert state(look, at(0, DAY + datetime.timedelta(days=1))) == OVERDUE


def test_the_day_is_over_when_it_is_over_in_the_shop(look, heard):
    shop()
    looks_remind(now=at(10, before(1)))
    moment = datetime.datetime(2026, 6, 10, 23, 0, tzinfo=datetime.UTC)
    assert state(look, moment, "Europe/Vienna") == SILENT  # 1:00 on the 11th
    assert state(look, moment, "America/New_York") == TODAY  # 19:00 on the 10th


@pytest.mark.parametrize(
    ("day", "hours"), [(datetime.date(2026, 3, 29), 23), (datetime.date(2026, 10, 25), 25)]
)
def test_a_day_on_which_the_clocks_change_ends_at_its_own_midnight(day, hours, heard):
    look = on_the_day(day)
    shop(remind_day_before=False)
    looks_remind(now=at(10, day))
    end = at(0, day).astimezone(datetime.UTC) + datetime.timedelta(hours=hours)
    assert state(look, end - datetime.timedelta(minutes=1)) == TODAY
    assert state(look, end) == SILENT


def test_the_list_of_looks_says_who_is_silent_and_whom_to_call(look, heard):
    shop()
    grower_of(look, phone="+1 555 0142")
    looks_remind(now=at(10, before(1)))
    page = client_of().get(reverse("follow-ups"))
    assert [row.state for row in page.context["open"]] == [SILENT]
    assert "Reminded, and no answer. Call: +1 555 0142" in words_of(page)


def test_the_start_page_says_who_is_silent_and_who_has_answered_before_the_day(heard):
    silent, early = make_look(due_in=-1), make_look(due_in=3)
    LookReminder.objects.create(check_in=check_in_for(silent), kind="day-before", went_out=True)
    send(early)
    rows = {row.url: (row.tag.split(" since")[0], row.tag_class) for row in looks_panel().rows}
    assert rows == {
        reverse("follow-up", args=[silent.pk]): ("no answer", "tag-stop"),
        reverse("follow-up", args=[early.pk]): ("answered", "tag-good"),
    }
