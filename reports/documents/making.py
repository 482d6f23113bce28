"""Making documents in the background: what an issued plan asked for, one row after the other."""

import logging
import time
from datetime import datetime, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from reports.claims import MAX_TRIES, claim, pause_s, update_claimed
from reports.documents.services import document_keep, document_render
from reports.models import Document, DocumentState
from reports.pdf import PdfRefused, PdfUnavailable

log = logging.getLogger("desk.documents")

LEASE = timedelta(minutes=5)
_NO_NEW_ROW_AFTER_S = 60.0  # mail has its turn in the same task, which ends well before its time limit
_LONGEST = 500  # what Document.last_error holds
_WAITING = (DocumentState.WAITING,)


def make_documents(*, worker: str, limit: int = 20, now: datetime | None = None) -> int:
    """Make what waits, at most `limit` documents, oldest first; says how many rows were worked on.

    May run anywhere, any number at once: a row is claimed, and when a worker dies with it another takes it
    after LEASE. A document is either there whole, with its hash, or not at all; a worker killed between the
    file and the row leaves a file nobody points to, never a row without its file. What fails is tried again
    after a pause, MAX_TRIES times in all, and then waits for somebody to press "Try again".
    """
    done = 0
    began = time.monotonic()
    while done < limit and time.monotonic() - began < _NO_NEW_ROW_AFTER_S:
        waiting = Document.objects.filter(state=DocumentState.WAITING)
        document = claim(waiting, worker=worker, lease=LEASE, now=now, related=["plan"])
        if document is None:
            break
        _make(document, now)
        done += 1
    return done


def _make(document: Document, now: datetime | None) -> None:
    if document.tries > MAX_TRIES:
        _give_up(document, document.last_error or _("Every try was broken off before it ended."))
        return
    try:
        document_keep(document, document_render(document))
    except PdfRefused as error:
        _give_up(document, str(error))
    except PdfUnavailable as error:
        _put_off(document, str(error), now)
    except OSError as error:
        _put_off(document, _("The file could not be written: %(why)s") % {"why": error}, now)
    except Exception as error:
        log.exception("Document %s met something unforeseen.", document.pk)
        words = _("Something unexpected went wrong (%(kind)s); the log of the site has the details.")
        _put_off(document, words % {"kind": type(error).__name__}, now)


def _put_off(document: Document, reason: str, now: datetime | None) -> None:
    if document.tries >= MAX_TRIES:
        _give_up(document, reason)
        return
    due_at = (now or timezone.now()) + timedelta(seconds=pause_s(document.tries))
    log.info("Document %s is tried again later: %s", document.pk, reason)
    update_claimed(
        document,
        states=_WAITING,
        due_at=due_at,
        last_error=reason[:_LONGEST],
        claimed_by="",
        claimed_until=None,
    )


def _give_up(document: Document, reason: str) -> None:
    log.warning("Document %s could not be made: %s", document.pk, reason)
    update_claimed(
        document,
        states=_WAITING,
        state=DocumentState.FAILED,
        last_error=reason[:_LONGEST],
        claimed_by="",
        claimed_until=None,
    )
