"""What mail servers reported is written to the message it is about, and to the address that does not work."""

import logging
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from reports.messages.delivery_reports import DeliveryReport, Outcome, reports_read
from reports.models import Message, MessageState

log = logging.getLogger("desk.messages")

_CAME_BACK = (Outcome.FAILED, Outcome.EXPIRED)


@dataclass(frozen=True)
class Recorded:
    """What became of some mails that may be reports."""

    bounced: int = 0
    noted: int = 0
    known: int = 0  # recorded before
    others: int = 0  # not a report, or not about a message of ours

    def __add__(self, other: "Recorded") -> "Recorded":
        return Recorded(
            self.bounced + other.bounced,
            self.noted + other.noted,
            self.known + other.known,
            self.others + other.others,
        )


def bounces_record(raw: bytes) -> Recorded:
    """Record what a raw mail reports. A mail that is no report about a message of ours changes nothing.

    Refused for good (status 5.x.x): the message came back, and the grower's address counts as one that mail
    does not reach, with the reason, until somebody corrects it or says that it works again. Given up after
    tries (failed with 4.x.x): the message came back, the address is not judged. Delayed (4.x.x): a note, the
    server goes on trying. The Message-ID is the proof: nobody but who got the mail, or carried it, knows it.
    """
    done = Recorded()
    for report in reports_read(raw):
        done += _record(report)
    return done if done != Recorded() else Recorded(others=1)


@transaction.atomic
def _record(report: DeliveryReport) -> Recorded:
    message = _message_of(report)
    if message is None:
        return Recorded(others=1)
    if report.outcome not in _CAME_BACK:
        return _note(message, report)
    if message.state == MessageState.BOUNCED:
        return Recorded(known=1)
    note = _words(report)
    changes = {"reported_at": timezone.now(), "report_status": report.status, "report_note": note}
    if message.state in (MessageState.SENT, MessageState.WAITING):
        # Waiting: it went out, and the worker died before it could say so. It is not sent once more.
        changes |= {"state": MessageState.BOUNCED, "claimed_by": "", "claimed_until": None}
    Message.objects.filter(pk=message.pk).update(**changes)
    if report.outcome is Outcome.FAILED:
        _mark_address(message, note)
    log.warning("Message %s came back: %s", message.pk, note)
    return Recorded(bounced=1)


def _message_of(report: DeliveryReport) -> Message | None:
    found = Message.objects.select_for_update(of=("self",)).select_related("plan__case__grower")
    return found.filter(message_id__in=report.ours).first() if report.ours else None


def _note(message: Message, report: DeliveryReport) -> Recorded:
    note = _words(report)
    if report.outcome is Outcome.DELIVERED or message.state == MessageState.BOUNCED:
        return Recorded(known=1)
    if message.report_note == note:
        return Recorded(known=1)
    Message.objects.filter(pk=message.pk).update(
        reported_at=timezone.now(), report_status=report.status, report_note=note
    )
    return Recorded(noted=1)


def _mark_address(message: Message, note: str) -> None:
    """Only while it is still the grower's address."""
    if message.plan is None:
        return
    grower = message.plan.case.grower
    if grower.email.casefold() != message.to.casefold() or grower.email_unreachable_at:
        return
    grower.email_unreachable_at, grower.email_unreachable_why = timezone.now(), note[:300]
    grower._change_reason = "Reported by a mail server"  # type: ignore[attr-defined]  # for the history
    grower.save(update_fields=["email_unreachable_at", "email_unreachable_why"])


def _words(report: DeliveryReport) -> str:
    reason = f"{report.status} {report.reason}".strip()
    match report.outcome:
        case Outcome.DELAYED:
            return (_("Not delivered yet; the mail server goes on trying: %(why)s") % {"why": reason})[:500]
        case Outcome.EXPIRED:
            return (_("The mail server tried for long and gave up: %(why)s") % {"why": reason})[:500]
    return (_("The mail server reported: %(why)s") % {"why": reason})[:500]
