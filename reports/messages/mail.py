"""One row of the outbox as a mail: text, the same as HTML, and the plan as PDF."""

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives
from django.core.validators import validate_email
from django.template.loader import render_to_string
from django.utils import translation

from reports.documents.selectors import document_name, document_read
from reports.documents.services import document_get_or_render
from reports.messages.failures import MayNotSendError, PlanReplacedError
from reports.messages.selectors import message_is_replaced
from reports.models import Message


def mail_build(message: Message) -> EmailMultiAlternatives:
    """The mail of this row, its plan rendered when nobody did yet (so never call it inside a transaction).

    Raises PlanReplacedError when a newer version of the plan was issued, MayNotSendError when the grower's
    consent has gone, PdfUnavailable when this machine cannot make PDFs, BadHeaderError when sender, recipient
    or subject would break out of its header.
    """
    if message_is_replaced(message):
        raise PlanReplacedError
    plan = message.plan
    snapshot: dict[str, Any] = (plan.snapshot if plan else None) or {}
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.body,
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[message.to],
        reply_to=_reply_to(snapshot),
        headers={"Message-ID": message.message_id, "Auto-Submitted": "auto-generated"},
    )
    language = snapshot.get("language") or settings.LANGUAGE_CODE
    with translation.override(language):
        mail.attach_alternative(render_to_string("messages/mail.html", {"mail": message}), "text/html")
    if plan is not None:
        if not plan.case.grower.may_be_emailed:
            raise MayNotSendError
        mail.attach(document_name(plan), document_read(document_get_or_render(plan)), "application/pdf")
    mail.message()  # a header that will not do shows here, before a server is bothered
    return mail


def _reply_to(snapshot: dict[str, Any]) -> list[str]:
    """The shop's own address, so that an answer reaches people even if the sending address is a machine's."""
    address = snapshot.get("shop", {}).get("email", "")
    try:
        validate_email(address)
    except ValidationError:
        return []
    return [address]
