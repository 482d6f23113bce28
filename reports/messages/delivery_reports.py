"""Reading delivery status reports (RFC 3464, in the frame of RFC 3462): what became of a mail.

Anybody can send such a mail, so nothing in it is believed but what is compared with our own rows, nothing is
copied but short plain text, and whatever is broken, huge or endless ends as "no report".
"""

import email
import email.policy
import re
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message as Mail
from enum import Enum

MOST_BYTES = 5 * 1024 * 1024  # a report carries at most the mail it speaks of
_MOST_PARTS = 50
_MOST_BLOCKS = 50  # ours go to one recipient each
_STATUS = re.compile(r"\b([245])\.(\d{1,3})\.(\d{1,3})\b")
_MESSAGE_ID = re.compile(r"<[^<>\s]{3,190}>")
_XTEXT = re.compile(r"\+([0-9A-F]{2})")
_STATUS_TYPES = ("message/delivery-status", "message/global-delivery-status")
_RETURNED_TYPES = (
    "message/rfc822",
    "message/global",
    "text/rfc822-headers",
    "message/global-headers",
)


class Outcome(Enum):
    """What the report says of the recipient."""

    FAILED = "failed"  # for good: no such mailbox, refused, unknown domain
    EXPIRED = "expired"  # the server tried for days and ends trying; the address may be right
    DELAYED = "delayed"  # it goes on trying
    DELIVERED = "delivered"


@dataclass(frozen=True)
class DeliveryReport:
    """One recipient of one mail. `ours` holds what may be our Message-ID, the surest first."""

    outcome: Outcome
    status: str
    recipient: str
    reason: str
    ours: tuple[str, ...]


def reports_read(raw: bytes) -> list[DeliveryReport]:
    """The reports in a raw mail; none when it is no report, or one that cannot be read. Never raises."""
    if len(raw) > MOST_BYTES:
        return []
    try:
        mail = email.message_from_bytes(raw, policy=email.policy.compat32)
        return list(_reports(mail))
    except Exception:  # the parser has met worse than its authors foresaw
        return []


def _reports(mail: Mail) -> Iterator[DeliveryReport]:
    status: Mail | None = None
    returned: Mail | None = None
    for part in _parts(mail):
        kind = part.get_content_type()
        if status is None and kind in _STATUS_TYPES:
            status = part
        elif returned is None and kind in _RETURNED_TYPES:
            returned = part
    if status is None:
        return
    blocks = _blocks(status)
    if not blocks:
        return
    about_all, about_each = blocks[0], blocks[1:]
    ours = tuple(dict.fromkeys([*_returned_ids(returned), *_envelope_ids(about_all)]))
    for block in about_each:
        report = _report(block, ours)
        if report is not None:
            yield report


def _parts(mail: Mail) -> Iterator[Mail]:
    """The parts of the report's own frame; what the returned mail holds is not looked into."""
    if mail.get_content_type() in _STATUS_TYPES:
        yield mail
        return
    content = mail.get_payload()
    if mail.get_content_maintype() == "multipart" and isinstance(content, list):
        for part in content[:_MOST_PARTS]:
            if isinstance(part, Mail):
                yield part


def _blocks(part: Mail) -> list[Mail]:
    """The groups of fields: first about the mail, then one for each recipient."""
    content = part.get_payload()
    if isinstance(content, list):
        found = [block for block in content if isinstance(block, Mail)]
        if len(found) > 1 or part.get_content_type() == _STATUS_TYPES[0]:
            return [block for block in found if block.keys()][: _MOST_BLOCKS + 1]
        content = "".join(block.as_string() for block in found)
    if not isinstance(content, str):
        return []
    texts = [text for text in re.split(r"\r?\n[ \t]*\r?\n", content) if text.strip()]
    return [
        email.message_from_string(text, policy=email.policy.compat32) for text in texts[: _MOST_BLOCKS + 1]
    ]


def _report(block: Mail, ours: tuple[str, ...]) -> DeliveryReport | None:
    found = _STATUS.search(_field(block, "Status"))
    outcome = _outcome(_field(block, "Action").strip().lower(), found.group(1) if found else "")
    if outcome is None or found is None:
        return None
    recipient = _field(block, "Original-Recipient") or _field(block, "Final-Recipient")
    return DeliveryReport(
        outcome=outcome,
        status=found.group(0),
        recipient=plain(recipient.partition(";")[2] or recipient, 254),
        reason=plain(_field(block, "Diagnostic-Code").partition(";")[2], 300),
        ours=ours,
    )


def _outcome(action: str, kind: str) -> Outcome | None:
    """`kind` is the first number of the status (RFC 3463): 2 it worked, 4 for now, 5 for good."""
    match action, kind:
        case "failed", "5":
            return Outcome.FAILED
        case "failed", "4":
            return Outcome.EXPIRED
        case "delayed", _:
            return Outcome.DELAYED
        case (("delivered" | "relayed" | "expanded"), _):
            return Outcome.DELIVERED
    return None


def _field(block: Mail, name: str) -> str:
    return str(block.get(name, ""))[:2000]


def _returned_ids(part: Mail | None) -> list[str]:
    """The Message-ID of the mail that is sent back with the report, whole or its head alone."""
    if part is None:
        return []
    content = part.get_payload()
    if isinstance(content, list):
        heads = [block for block in content[:1] if isinstance(block, Mail)]
    else:
        heads = [email.message_from_string(str(content)[:100_000], policy=email.policy.compat32)]
    return [found for head in heads for found in _MESSAGE_ID.findall(_field(head, "Message-ID"))[:1]]


def _envelope_ids(about_all: Mail) -> list[str]:
    """What the envelope called the mail (RFC 3461 writes it as xtext)."""
    written = _field(about_all, "Original-Envelope-Id").strip()
    if not written:
        return []
    name = _XTEXT.sub(lambda found: chr(int(found.group(1), 16)), written).strip().strip("<>")
    return _MESSAGE_ID.findall(f"<{name}>")


def plain(text: str, longest: int) -> str:
    """Short text on one line, without anything that is not a character to be seen."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:longest]
