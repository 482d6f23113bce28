"""Writes of the outbox: a row when a plan is issued, a row tried again."""

import logging
import unicodedata
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone, translation
from django.utils.crypto import salted_hmac
from django.utils.encoding import punycode
from django.utils.translation import gettext as _

from consults.models import Plan
from garden.access import Right, check_right
from garden.models import Grower, Staff
from reports.messages.errors import MessageRefusedError
from reports.messages.nudge import nudge
from reports.messages.selectors import AGAIN, message_is_replaced
from reports.models import Message, MessageState

log = logging.getLogger("desk.messages")


def plan_message_create(
    sender: object, *, plan: Plan, send_email: bool, by: Staff, **kwargs: Any
) -> Message | None:
    """Put the mail with an issued plan into the outbox; runs inside the transaction that issues.

    Whether or not this plan is mailed, what has not gone out of older versions never will. One plan has one
    message however often this is called. Raises MessageRefusedError, which undoes the issue, when an email is
    asked for and the grower may not be sent one.
    """
    _replace_older(plan)
    if not send_email:
        return None
    grower = plan.case.grower
    _check_address(grower)
    key = f"plan-issued:{plan.pk}"
    with translation.override(grower.language):
        content = {"subject": _subject(plan), "body": _body(plan)}
    message, _created = Message.objects.get_or_create(
        key=key, defaults={"plan": plan, "to": grower.email, "message_id": message_id(key), **content}
    )
    transaction.on_commit(nudge, robust=True)
    return message


def message_retry(*, message: Message, by: Staff | AnonymousUser) -> None:
    """Put a message that was given up, withheld or came back into the queue, to the grower's address."""
    check_right(by, Right.ISSUE_PLANS)
    if message_is_replaced(message):
        raise MessageRefusedError(
            _("A newer version of this plan was issued, so this email is not sent any more.")
        )
    to = message.to
    if message.plan is not None:
        _check_address(message.plan.case.grower)
        to = message.plan.case.grower.email
    changed = Message.objects.filter(pk=message.pk, state__in=AGAIN).update(
        state=MessageState.WAITING, to=to, tries=0, due_at=timezone.now(), claimed_by="", claimed_until=None
    )
    if not changed:
        raise MessageRefusedError(
            _(
                "Only what was given up, withheld or came back can be tried again;"
                " this one is waiting or already sent."
            )
        )
    log.info("Message %s is tried again, asked by %s.", message.pk, by.pk)
    transaction.on_commit(nudge, robust=True)


def _replace_older(plan: Plan) -> None:
    """End what still waits, or was given up, of older versions.

    The claim stays on the row: a worker that has just handed the mail over can still write down that it went.
    """
    unsent = Message.objects.filter(
        state__in=[MessageState.WAITING, MessageState.DEAD, MessageState.WITHHELD]
    )
    unsent.filter(plan__case=plan.case_id, plan__version__lt=plan.version).update(state=MessageState.REPLACED)


def message_id(key: str) -> str:
    """The Message-ID of the news `key`: always the same here, not the same in another shop's database."""
    name = salted_hmac("reports.messages", key, algorithm="sha256").hexdigest()[:32]
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    return f"<{name}@{punycode(domain or 'localhost')}>"


def one_line(text: str) -> str:
    """`text` without line breaks and other control characters, so that it can stand in a mail header."""
    plain = "".join(" " if unicodedata.category(c) in {"Cc", "Zl", "Zp"} else c for c in text)
    return " ".join(plain.split())


def _check_address(grower: Grower) -> None:
    if not grower.email:
        raise MessageRefusedError(
            _("%(grower)s has no email address. Enter one with the grower's consent, or issue without email.")
            % {"grower": grower.name}
        )
    if grower.email_unreachable_at:
        raise MessageRefusedError(
            _(
                "Mail to %(email)s came back: %(why)s Correct the address on the grower's page, or note there"
                " that it works again."
            )
            % {"email": grower.email, "why": grower.email_unreachable_why}
        )
    if not grower.agrees_to_email:
        raise MessageRefusedError(
            _(
                "%(grower)s has not agreed to be emailed. Ask, and note the consent on the grower's page,"
                " or issue without email and hand over the printed plan."
            )
            % {"grower": grower.name}
        )
    try:
        validate_email(grower.email)
    except ValidationError as error:
        raise MessageRefusedError(
            _('"%(email)s" is not a complete email address. Correct it on the grower\'s page.')
            % {"email": grower.email}
        ) from error


def _subject(plan: Plan) -> str:
    snapshot = plan.snapshot or {}
    words = _("Your plan from %(shop)s (case %(case)s, version %(version)s)") % {
        "shop": snapshot["shop"]["name"],
        "case": plan.case_id,
        "version": plan.version,
    }
    return one_line(words)[:200]


def _body(plan: Plan) -> str:
    """Plain friendly text; everything of substance stands in the attached plan."""
    snapshot = plan.snapshot or {}
    shop, look_again_on = snapshot["shop"], snapshot["plan"]["look_again_on"]
    parts = [
        _("Hello %(name)s,") % {"name": one_line(snapshot["grower"]["name"])},
        _(
            "thank you for coming to us with your plants. Attached is your plan as a PDF file you can print:"
            " what to do today, what comes after, and why."
        ),
    ]
    if plan.version > 1:
        parts.append(_("It takes the place of the plan you had from us before."))
    if look_again_on:
        parts.append(_("We would like to look again on %(day)s.") % {"day": look_again_on})
    if shop["phone"]:
        parts.append(
            _("If something gets worse, or a step is not clear, call us: %(phone)s.")
            % {"phone": shop["phone"]}
        )
    else:
        parts.append(_("If something gets worse, or a step is not clear, please come by or get in touch."))
    parts.append(_("Kind regards") + "\n" + one_line(shop["name"]))
    return "\n\n".join(parts) + "\n"
