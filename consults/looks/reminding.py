"""Who is to be reminded of a look now. The sending is the floor above's; it hears of it by a signal."""

import logging
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone

from consults.choices import ReminderKind
from consults.looks.services import LookClosedError, check_in_for, lock_open_look
from consults.models import CheckIn, FollowUp, LookReminder, Shop
from consults.shop.selectors import shop_get
from consults.signals import look_due

log = logging.getLogger("desk.looks")

_MOST_AT_ONCE = 100


def looks_remind(*, now: datetime | None = None) -> int:
    """Note who is to be reminded now, once of each kind for each look, and tell the floors above.

    Says how many reminders went out. The day before and on the day itself, each from the shop's hour on and
    by the shop's clock, to growers who may be reminded and have not answered. Run twice, or twice at once, it
    reminds nobody twice: the database holds one row for each look and kind. One look that fails is tried
    again the next time and keeps no other waiting.
    """
    shop = shop_get()
    here = timezone.localtime(now or timezone.now(), ZoneInfo(shop.time_zone))
    if here.hour < shop.remind_from_hour:
        return 0
    # A plan issued this very day says itself what is coming.
    midnight = here.replace(hour=0, minute=0, second=0, microsecond=0)
    went_out = 0
    for kind, day in _kinds(shop, here.date()):
        for look in _due(kind, day, issued_before=midnight):
            try:
                went_out += _remind(look, kind)
            except Exception:
                log.exception("The reminder of look %s (%s) failed; it is tried again.", look.pk, kind)
    return went_out


def _kinds(shop: Shop, today: date) -> Iterator[tuple[ReminderKind, date]]:
    if shop.remind_day_before:
        yield ReminderKind.DAY_BEFORE, today + timedelta(days=1)
    if shop.remind_on_the_day:
        yield ReminderKind.ON_THE_DAY, today


def _due(kind: ReminderKind, day: date, *, issued_before: datetime) -> list[FollowUp]:
    this = CheckIn.objects.filter(plan=OuterRef("plan"), due_on=day)
    looks = FollowUp.objects.filter(
        ~Exists(this.filter(sent_at__isnull=False)),
        ~Exists(this.filter(reminders__kind=kind)),
        done_at__isnull=True,
        due_on=day,
        plan__issued_at__lt=issued_before,
        plan__case__grower__email_consent_at__isnull=False,
        plan__case__grower__email_unreachable_at__isnull=True,
        plan__case__grower__reminders_stopped_at__isnull=True,
    ).exclude(plan__case__grower__email="")
    return list(looks.order_by("pk")[:_MOST_AT_ONCE])


@transaction.atomic
def _remind(look: FollowUp, kind: ReminderKind) -> bool:
    check_in = check_in_for(look)
    try:
        look = lock_open_look(check_in)
    except LookClosedError:
        return False
    reminder, new = LookReminder.objects.get_or_create(check_in=check_in, kind=kind)
    if not new:
        return False
    answers = look_due.send(sender=FollowUp, look=look, check_in=check_in, kind=kind)
    reminder.went_out = any(bool(answer) for _receiver, answer in answers)
    reminder.save(update_fields=["went_out"])
    return reminder.went_out
