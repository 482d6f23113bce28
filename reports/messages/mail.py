"""One row of the outbox as a mail: text, the same as HTML, the plan as PDF, the next look as an entry."""

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives
from django.core.validators import validate_email
from django.template.loader import render_to_string
from django.utils import translation

from consults.models import FollowUp, Plan
from reports.documents.selectors import document_name, document_read
from reports.documents.services import document_get_or_render
from reports.messages.calendar import look_part
from reports.messages.failures import MayNotSendError, PlanReplacedError
from reports.messages.links import stop_address
from reports.messages.selectors import message_is_replaced, reason_to_withhold
from reports.models import Message, MessageKind


def mail_build(message: Message) -> EmailMultiAlternatives:
    """The mail of this row, its plan rendered when nobody did yet (so never call it inside a transaction).

    Raises PlanReplacedError when a newer version of the plan was issued, MayNotSendError when it must not go
    out any more (no consent, no reminders wanted, the address changed or does not work), PdfUnavailable when
    this machine cannot make PDFs, BadHeaderError when sender, recipient or subject would break out of its
    header.
    """
    if message_is_replaced(message):
        raise PlanReplacedError
    plan = message.plan
    snapshot: dict[str, Any] = (plan.snapshot if plan else None) or {}
    if why := reason_to_withhold(message):
        raise MayNotSendError(why)
    with translation.override(snapshot.get("language") or settings.LANGUAGE_CODE):
        content = {"mail": message, "stop_address": stop_address(message), "shop": snapshot.get("shop")}
        mail = EmailMultiAlternatives(
            subject=message.subject,
            body=render_to_string("messages/mail.txt", content),
            from_email=settings.DEFAULT_FROM_EMAIL,
            to=[message.to],
            reply_to=_reply_to(snapshot),
            headers=_headers(message),
        )
        mail.attach_alternative(render_to_string("messages/mail.html", content), "text/html")
        if plan is not None:
            _attach(mail, message, plan)
    mail.message()  # a header that will not do shows here, before a server is bothered
    return mail


def _attach(mail: EmailMultiAlternatives, message: Message, plan: Plan) -> None:
    if message.kind == MessageKind.PLAN:
        mail.attach(document_name(plan), document_read(document_get_or_render(plan)), "application/pdf")
    if not _moved(plan) and (entry := look_part(plan)):
        mail.attach(entry)


def _moved(plan: Plan) -> bool:
    """Whether another day was agreed on since: the entry for the calendar would say the old one."""
    day = plan.look_again_on
    return day is not None and FollowUp.objects.filter(plan=plan).exclude(due_on=day).exists()


def _headers(message: Message) -> dict[str, str]:
    """What mailboxes read. One-click leaving is RFC 8058; it wants both its headers to be covered by the DKIM
    signature of the server that sends the mail."""
    headers = {"Message-ID": message.message_id, "Auto-Submitted": "auto-generated"}
    if address := stop_address(message, one_click=True):
        headers["List-Unsubscribe"] = f"<{address}>"
        if address.startswith("https:"):
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def _reply_to(snapshot: dict[str, Any]) -> list[str]:
    """The shop's own address, so that an answer reaches people even if the sending address is a machine's."""
    address = snapshot.get("shop", {}).get("email", "")
    try:
        validate_email(address)
    except ValidationError:
        return []
    return [address]
