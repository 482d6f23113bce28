"""Reminders: a short mail the day before an agreed look, to growers whose plan went by mail."""

import logging
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from consults.models import FollowUp, Plan
from consults.shop.selectors import shop_get
from garden.choices import StoppedHow
from garden.models import Grower
from reports.messages.services import message_id, one_line
from reports.models import Message, MessageKind, MessageState

log = logging.getLogger("desk.messages")

_DAYS_BEFORE = 1
_NOT_BEFORE_HOUR = 9  # of the shop's clock; judgement: nobody's telephone rings at night because of us
_MOST_AT_ONCE = 100


def reminders_write(*, now: datetime | None = None) -> int:
    """Put the reminders of tomorrow's looks into the outbox, once each; says how many are new.

    From nine in the morning of the shop's day before the look. Only where the plan itself was sent by mail,
    the grower may be reminded, and the look still stands. Running it twice, or twice at once, writes nothing
    twice.
    """
    here = timezone.localtime(now or timezone.now(), ZoneInfo(shop_get().time_zone))
    if here.hour < _NOT_BEFORE_HOUR:
        return 0
    looks = FollowUp.objects.filter(
        done_at__isnull=True,
        due_on=here.date() + timedelta(days=_DAYS_BEFORE),
        plan__messages__kind=MessageKind.PLAN,
        plan__messages__state=MessageState.SENT,
        plan__case__grower__email_consent_at__isnull=False,
        plan__case__grower__email_unreachable_at__isnull=True,
        plan__case__grower__reminders_stopped_at__isnull=True,
    ).exclude(plan__messages__kind=MessageKind.REMINDER)
    # A plan issued this very morning says the day itself.
    looks = looks.filter(plan__issued_at__lt=here.replace(hour=0, minute=0, second=0, microsecond=0))
    found = list(looks.select_related("plan__case__grower").order_by("pk")[:_MOST_AT_ONCE])
    return sum(_write(look) for look in found)


def _write(look: FollowUp) -> bool:
    plan, grower = look.plan, look.plan.case.grower
    key = f"look-reminder:{plan.pk}"
    with translation.override(grower.language):
        content = {"subject": _subject(plan, look), "body": _body(plan, look)}
    _message, created = Message.objects.get_or_create(
        key=key,
        defaults={
            "kind": MessageKind.REMINDER,
            "plan": plan,
            "to": grower.email,
            "message_id": message_id(key),
            **content,
        },
    )
    return created


def _shop(plan: Plan) -> dict[str, str]:
    shop: dict[str, str] = (plan.snapshot or {})["shop"]
    return shop


def _subject(plan: Plan, look: FollowUp) -> str:
    words = {"shop": one_line(_shop(plan)["name"]), "day": date_format(look.due_on, "j F")}
    return one_line(_("We look again on %(day)s (%(shop)s)") % words)[:200]


def _body(plan: Plan, look: FollowUp) -> str:
    shop = _shop(plan)
    parts = [
        _("Hello %(name)s,") % {"name": one_line(plan.case.grower.name)},
        _("tomorrow, %(day)s, we would like to look at your plants again.")
        % {"day": date_format(look.due_on, "l j F Y")},
        _("Bring photos and what you noted since, or come by."),
    ]
    if shop["phone"]:
        parts.append(_("To choose another day, call us: %(phone)s.") % {"phone": one_line(shop["phone"])})
    parts.append(_("Kind regards") + "\n" + one_line(shop["name"]))
    return "\n\n".join(parts) + "\n"


def reminders_stop_by_link(*, message: Message) -> None:
    """The owner of the address wants no reminders; what waits of them is withheld when its turn comes."""
    grower = _grower_of(message)
    if grower is None or grower.reminders_stopped_at:
        return
    grower.reminders_stopped_at, grower.reminders_stopped_how = timezone.now(), StoppedHow.BY_LINK
    _save(grower, "By the link in an email")
    log.info("Grower %s wants no reminders, by the link in message %s.", grower.pk, message.pk)


def reminders_wanted_again(*, message: Message) -> None:
    """They pressed the wrong button, or changed their mind."""
    grower = _grower_of(message)
    if grower is None or not grower.reminders_stopped_at:
        return
    grower.reminders_stopped_at, grower.reminders_stopped_how = None, ""
    _save(grower, "By the link in an email")


def _grower_of(message: Message) -> Grower | None:
    """Whom the link speaks for: the grower, as long as the address is still theirs."""
    if message.plan is None:
        return None
    grower = message.plan.case.grower
    return grower if grower.email.casefold() == message.to.casefold() else None


def _save(grower: Grower, why: str) -> None:
    grower._change_reason = why  # type: ignore[attr-defined]  # for the history
    grower.save(update_fields=["reminders_stopped_at", "reminders_stopped_how"])
