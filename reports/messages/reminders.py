"""Reminders: a short mail about an agreed look, to growers whose plan went by mail.

Who is due when is decided by `consults.looks.reminding`, which tells it by a signal.
"""

import logging
from typing import Any

from django.db import transaction
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from consults.choices import ReminderKind
from consults.looks.asking import first_name
from consults.looks.links import check_in_path
from consults.models import CheckIn, FollowUp, Plan
from garden.choices import StoppedHow
from garden.models import Grower
from reports.messages.links import site_address
from reports.messages.nudge import nudge
from reports.messages.services import message_id, one_line
from reports.models import Message, MessageKind, MessageState

log = logging.getLogger("desk.messages")


def look_reminder_create(
    sender: object, *, look: FollowUp, check_in: CheckIn, kind: str, **kwargs: Any
) -> bool:
    """Put the reminder of a look into the outbox; runs inside the transaction that notes it.

    True when it is there. Only where the plan itself went by mail and the grower may be reminded. One look
    has one message of each kind, however often this is called.
    """
    plan, grower = look.plan, look.plan.case.grower
    went = Message.objects.filter(plan=plan, kind=MessageKind.PLAN, state=MessageState.SENT).exists()
    if not went or not grower.may_be_reminded:
        return False
    key = f"look-reminder:{plan.pk}:{look.due_on.isoformat()}:{kind}"
    with translation.override(grower.language):
        content = {"subject": _subject(plan, look), "body": _body(plan, look, kind, _link(check_in))}
    Message.objects.get_or_create(
        key=key,
        defaults={
            "kind": MessageKind.REMINDER,
            "plan": plan,
            "to": grower.email,
            "message_id": message_id(key),
            **content,
        },
    )
    transaction.on_commit(nudge, robust=True)
    return True


def _link(check_in: CheckIn) -> str:
    """The grower's way to tell how it went; "" where the site's own address is not known."""
    if not site_address() or check_in.link_revoked_at:
        return ""
    return site_address() + check_in_path(check_in)


def _shop(plan: Plan) -> dict[str, str]:
    shop: dict[str, str] = (plan.snapshot or {})["shop"]
    return shop


def _subject(plan: Plan, look: FollowUp) -> str:
    words = {"shop": one_line(_shop(plan)["name"]), "day": date_format(look.due_on, "j F")}
    return one_line(_("We look again on %(day)s (%(shop)s)") % words)[:200]


def _body(plan: Plan, look: FollowUp, kind: str, link: str) -> str:
    shop = _shop(plan)
    day = {"day": date_format(look.due_on, "l j F Y")}
    parts = [_("Hello %(name)s,") % {"name": one_line(first_name(plan.case.grower.name))}]
    if kind == ReminderKind.ON_THE_DAY:
        parts.append(_("today, %(day)s, we would like to look at your plants again.") % day)
    else:
        parts.append(_("tomorrow, %(day)s, we would like to look at your plants again.") % day)
    if link:
        words = _("Tell us here how they are and what you did; it takes two minutes, and photos help:")
        parts.append(f"{words}\n{link}")
        parts.append(_("The link is for you alone. You can change your answers until we have looked."))
    else:
        parts.append(_("Bring photos and what you noted since, or come by."))
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
