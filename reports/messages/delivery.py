"""Draining the outbox: the one function behind the Celery task, the background thread and the command."""

import logging
import time
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.mail import EmailMessage, get_connection
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from reports.claims import MAX_TRIES, claim, pause_s, update_claimed
from reports.messages.failures import Failure, MayNotSendError, PlanReplacedError, failure_of
from reports.messages.mail import mail_build
from reports.models import Document, DocumentState, Message, MessageState

log = logging.getLogger("desk.messages")

LEASE = timedelta(minutes=5)
_NO_NEW_ROW_AFTER_S = 120.0  # a task ends well before its time limit, even when the server is slow


@dataclass(frozen=True)
class Drained:
    """What one call of `drain` did."""

    sent: int = 0
    retried: int = 0
    dead: int = 0
    withheld: int = 0

    @property
    def total(self) -> int:
        return self.sent + self.retried + self.dead + self.withheld

    def __bool__(self) -> bool:
        return bool(self.total)

    def __add__(self, other: "Drained") -> "Drained":
        return Drained(
            self.sent + other.sent,
            self.retried + other.retried,
            self.dead + other.dead,
            self.withheld + other.withheld,
        )


def drain(*, worker: str, limit: int = 20, now: datetime | None = None) -> Drained:
    """Send what is due, at most `limit` messages, oldest first. May run anywhere, any number at once.

    `worker` says who is working, for the log. `now` stands in for the clock, in tests.

    A row is claimed for LEASE by one conditional UPDATE, so two drains never hold the same row, on SQLite
    and on PostgreSQL alike. Nothing is locked while the plan is rendered and the mail handed over. The claim
    is renewed right before the mail is handed over, and the row is marked right after the server's 250,
    each only while the claim is still held.

    Guaranteed: a message whose transaction was undone is never sent; a message is never lost; a worker that
    dies before the mail server has accepted the mail causes no second mail, another worker sends it when
    the lease has run out. Not guaranteed: when the mail server has accepted the mail and the row could not
    be marked (the worker died, or stood still for longer than the lease, or the server's answer or the
    database was lost just then), the mail is sent a second time with the same Message-ID, which lets a
    mailbox drop it. SMTP offers no way to close that window, and it is the only one. Measured with a mail
    server on the same machine, PostgreSQL and 101 mails with their PDF, while other work kept the machine
    busy: 12 ms from the server's acceptance to the mark (median; 95 of 100 within 20 ms, at most 34 ms). Of
    these the server took 5 before it said 250; from reading the 250 to the mark it was 4 ms (9, 16).
    A server that has the whole text goes on without the worker, so the time it takes to accept counts as
    well. Killed 55 times at random in the middle of work, 151 mails all arrived, 12 of them twice, none once
    its row was marked. `python -m tests.faults` measures it again.

    What fails for now is tried again after a pause (see `claims.pause_s`), MAX_TRIES times in all; then, or
    when the server's answer is final, the message is given up with the reason. A claim counts as a try, so a
    message that brings its worker down is given up too. When the server cannot be reached at all the drain
    ends: the other messages would meet the same. What must not go out any more, because the grower said so or
    mail to the address comes back, is withheld with the reason.
    """
    done = Drained()
    began = time.monotonic()
    while done.total < limit and time.monotonic() - began < _NO_NEW_ROW_AFTER_S:
        message = _claim(worker, now)
        if message is None:
            break
        one, go_on = _deliver(message, now)
        done += one
        if not go_on:
            break
    return done


# --- claims ---------------------------------------------------------------------------------------
def _claim(worker: str, now: datetime | None) -> Message | None:
    waiting = _sendable(now or timezone.now())
    return claim(waiting, worker=worker, lease=LEASE, now=now, related=["plan__case__grower"])


def _sendable(moment: datetime) -> QuerySet[Message]:
    """What waits, without what waits for a document that somebody is making just now."""
    in_the_making = Document.objects.filter(
        plan=OuterRef("plan"), state=DocumentState.WAITING, claimed_until__gt=moment
    )
    return Message.objects.filter(~Exists(in_the_making), state=MessageState.WAITING)


def _update_claimed(
    message: Message, *, states: Collection[MessageState] = (MessageState.WAITING,), **changes: Any
) -> bool:
    return update_claimed(message, states=states, **changes)


def _renew(message: Message, now: datetime | None) -> bool:
    return _update_claimed(message, claimed_until=(now or timezone.now()) + LEASE)


# --- one message ----------------------------------------------------------------------------------
def _deliver(message: Message, now: datetime | None) -> tuple[Drained, bool]:
    """Send one claimed message and mark it; also says whether it is worth going on with the next."""
    if message.tries > MAX_TRIES:
        broken_off = Failure(message.last_error or _("Every try was broken off before it ended."))
        return _give_up(message, broken_off), True
    try:
        mail = mail_build(message)
    except PlanReplacedError:
        _update_claimed(message, state=MessageState.REPLACED)
        log.info("Message %s is not sent: its plan has a newer version.", message.pk)
        return Drained(), True
    except MayNotSendError as error:
        return _withhold(message, str(error)), True
    except Exception as error:
        return _failed(message, failure_of(error, handing_over=False), now, error), True
    return _hand_over(message, mail, now)


def _hand_over(message: Message, mail: EmailMessage, now: datetime | None) -> tuple[Drained, bool]:
    """Give the mail to the server and mark the row at once; the farewell to the server comes after."""
    connection = None
    try:
        connection = get_connection()
        connection.open()
        if not _renew(message, now):
            log.warning(
                "Message %s is no longer ours: somebody else took it, or it was replaced.", message.pk
            )
            return Drained(), True
        if connection.send_messages([mail]) != 1:
            raise OSError(_("it took no mail and gave no reason"))
    except Exception as error:
        failure = failure_of(error, handing_over=True)
        return _failed(message, failure, now, error), not failure.unreachable
    else:
        return _sent(message, getattr(mail, "sent_as", ""), now), True
    finally:
        _close(connection)


def _close(connection: Any) -> None:
    if connection is None:
        return
    try:
        connection.close()
    except Exception as error:
        # The mail has been accepted or refused by now: a farewell that fails changes nothing.
        log.info("The connection to the mail server did not close cleanly: %s", error)


def _sent(message: Message, sent_as: str, now: datetime | None) -> Drained:
    marked = _update_claimed(
        message,
        # What was replaced while the mail server had it in hand went out all the same, and says so.
        states=(MessageState.WAITING, MessageState.REPLACED),
        state=MessageState.SENT,
        sent_at=now or timezone.now(),
        sent_as=sent_as,
        claimed_by="",
        claimed_until=None,
        last_error="",
    )
    if not marked:
        log.error("Message %s was sent, but its claim had run out; it may be sent a second time.", message.pk)
    return Drained(sent=1)


def _failed(message: Message, failure: Failure, now: datetime | None, error: Exception) -> Drained:
    if not failure.foreseen:
        log.error("Message %s met something unforeseen.", message.pk, exc_info=error)
    if failure.lasting or message.tries >= MAX_TRIES:
        return _give_up(message, failure)
    due_at = (now or timezone.now()) + timedelta(seconds=pause_s(message.tries))
    log.info("Message %s is tried again later: %s", message.pk, failure.reason)
    _update_claimed(message, due_at=due_at, last_error=failure.reason, claimed_by="", claimed_until=None)
    return Drained(retried=1)


def _withhold(message: Message, reason: str) -> Drained:
    _update_claimed(
        message,
        state=MessageState.WITHHELD,
        last_error=reason[:500],
        claimed_by="",
        claimed_until=None,
    )
    log.info("Message %s is withheld: %s", message.pk, reason)
    return Drained(withheld=1)


def _give_up(message: Message, failure: Failure) -> Drained:
    _update_claimed(
        message, state=MessageState.DEAD, last_error=failure.reason, claimed_by="", claimed_until=None
    )
    log.warning("Message %s was given up: %s", message.pk, failure.reason)
    return Drained(dead=1)
