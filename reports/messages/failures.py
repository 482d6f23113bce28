"""What a failed delivery means: try again later, or give up; and why, in words for the staff."""

import smtplib
from dataclasses import dataclass, replace

from django.core.mail import BadHeaderError
from django.utils.translation import gettext as _

from reports.documents.selectors import DocumentLostError
from reports.messages.eml import OutgoingFolderError
from reports.messages.services import one_line
from reports.pdf import PdfRefused, PdfUnavailable

_LONGEST = 500  # what Message.last_error holds


@dataclass(frozen=True)
class Failure:
    """`lasting`: another try would end the same way. `unreachable`: any other mail would meet it too."""

    reason: str
    lasting: bool = False
    unreachable: bool = False
    foreseen: bool = True


class MayNotSendError(Exception):
    """Since the message was written somebody said, or something showed, that it must not go; says which."""


class PlanReplacedError(Exception):
    """A newer version of the plan was issued since the message was written: only that one goes out."""


def failure_of(error: Exception, *, handing_over: bool) -> Failure:
    """What `error`, raised while a mail was made or (`handing_over`) given to the mail server, means.

    Answers 5xx of the server about this sender, recipient or text last; answers 4xx, 5xx at greeting and
    sign-in (the shop's settings, not this mail), lost connections and anything unforeseen do not.
    """
    failure = (_of_server if handing_over else _of_making)(error) or Failure(
        _("Something unexpected went wrong (%(kind)s); the log of the site has the details.")
        % {"kind": type(error).__name__},
        foreseen=False,
    )
    return replace(failure, reason=one_line(failure.reason)[:_LONGEST])


def _of_making(error: Exception) -> Failure | None:
    match error:
        case PdfRefused():
            return Failure(_("The plan could not be made into a PDF: %(why)s") % {"why": error}, lasting=True)
        case PdfUnavailable() | DocumentLostError():
            return Failure(_("The plan could not be made into a PDF: %(why)s") % {"why": error})
        case BadHeaderError():
            return Failure(_("The address or the subject contains a line break."), lasting=True)
    return None


def _of_server(error: Exception) -> Failure | None:
    match error:
        case OutgoingFolderError():
            return Failure(str(error), unreachable=True)
        case smtplib.SMTPRecipientsRefused():
            address, (code, answer) = next(iter(error.recipients.items()))
            words = _("The mail server refused the address %(address)s: %(answer)s") % {
                "address": address,
                "answer": _answer(code, answer),
            }
            return Failure(words, lasting=code >= 500)
        case smtplib.SMTPAuthenticationError():
            words = _("The mail server refused the shop's user name or password: %(answer)s")
            return Failure(words % {"answer": _answer(error.smtp_code, error.smtp_error)}, unreachable=True)
        case smtplib.SMTPSenderRefused() | smtplib.SMTPDataError():
            words = _("The mail server refused the mail: %(answer)s")
            lasting = error.smtp_code >= 500
            return Failure(words % {"answer": _answer(error.smtp_code, error.smtp_error)}, lasting=lasting)
        case smtplib.SMTPResponseException():
            words = _("The mail server is not ready: %(answer)s")
            return Failure(words % {"answer": _answer(error.smtp_code, error.smtp_error)}, unreachable=True)
        case OSError():  # smtplib's other errors, time-outs, certificates and names that are not found too
            words = _("The mail server could not be reached: %(why)s")
            return Failure(words % {"why": error or type(error).__name__}, unreachable=True)
    return None


def _answer(code: int, answer: bytes | str) -> str:
    text = answer.decode(errors="replace") if isinstance(answer, bytes) else answer
    return f"{code} {text}"
