"""What mail servers report back is recorded, and a report that was made up to do harm does none."""

import io
import sys
from email.message import EmailMessage
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from reports.messages.bounces import Recorded, bounces_record
from reports.messages.delivery import Drained, drain
from reports.messages.delivery_reports import MOST_BYTES, reports_read
from reports.messages.services import message_retry
from reports.models import Message
from tests.reports.messages.making import make_message, make_staff

pytestmark = pytest.mark.django_db

_FRAME = """From: MAILER-DAEMON@mx.example
To: plans@shop.example
Subject: Undelivered
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="b"

--b
Content-Type: text/plain

It did not work.

--b
Content-Type: {status_type}

Reporting-MTA: dns; mx.example
{envelope}

Final-Recipient: rfc822; {to}
Action: {action}
Status: {status}
Diagnostic-Code: smtp; {why}

--b
Content-Type: {returned_type}

{returned}
--b--
"""


def report(message: Message | None = None, **changes: str) -> bytes:
    """A report as mail servers write it (the layout of RFC 3464, made up here)."""
    name = message.message_id if message else "<nobody@else.example>"
    facts = {
        "status_type": "message/delivery-status",
        "returned_type": "text/rfc822-headers",
        "returned": f"From: plans@shop.example\nMessage-ID: {name}\nSubject: Your plan\n",
        "envelope": "X-Queue: 1",
        "to": message.to if message else "x@y.example",
        "action": "failed",
        "status": "5.1.1",
        "why": "550 5.1.1 no such mailbox",
        **changes,
    }
    return _FRAME.format(**facts).encode()


def sent() -> Message:
    return make_message(state="sent", sent_at=timezone.now())


def again(message: Message) -> Message:
    return Message.objects.select_related("plan__case__grower").get(pk=message.pk)


def test_a_lasting_refusal_marks_the_message_and_the_address_with_the_reason() -> None:
    message, other = sent(), sent()
    assert bounces_record(report(message)) == Recorded(bounced=1)
    message = again(message)
    assert (message.state, message.report_status) == ("bounced", "5.1.1")
    assert "no such mailbox" in message.report_note
    grower = message.plan.case.grower
    assert "no such mailbox" in grower.email_unreachable_why
    assert not grower.may_be_emailed
    assert grower.agrees_to_email
    assert again(other).state == "sent"
    assert again(other).plan.case.grower.may_be_emailed


def test_a_delay_is_a_note_and_nothing_else() -> None:
    message = sent()
    late = report(message, action="delayed", status="4.4.1", why="host does not answer")
    assert bounces_record(late) == Recorded(noted=1)
    assert bounces_record(late) == Recorded(known=1)
    message = again(message)
    assert message.state == "sent"
    assert "4.4.1 host does not answer" in message.report_note
    assert message.plan.case.grower.may_be_emailed


def test_a_server_that_gave_up_after_days_leaves_the_address_alone() -> None:
    message = sent()
    assert bounces_record(report(message, status="4.4.7")) == Recorded(bounced=1)
    assert again(message).state == "bounced"
    assert again(message).plan.case.grower.may_be_emailed


@pytest.mark.parametrize("action", ["delivered", "relayed", "expanded", "made-up", ""])
def test_good_news_and_no_news_change_nothing(action: str) -> None:
    message = sent()
    bounces_record(report(message, action=action, status="2.0.0"))
    assert again(message).state == "sent"
    assert again(message).report_note == ""


@pytest.mark.parametrize(
    "changes",
    [
        {"returned_type": "message/rfc822"},
        {"returned_type": "text/plain", "envelope": "Original-Envelope-Id: {bare}"},
        {"returned_type": "text/plain", "envelope": "Original-Envelope-Id: {xtext}"},
        {"status_type": "message/global-delivery-status", "returned_type": "message/global-headers"},
        {"action": "Failed", "status": "5.1.1 (bad destination)"},
    ],
)
def test_the_message_is_found_by_the_returned_mail_or_by_the_envelope(changes: dict[str, str]) -> None:
    message = sent()
    bare = message.message_id.strip("<>")
    names = {"bare": bare, "xtext": f"+3C{bare}+3E"}
    filled = {name: text.format(**names) for name, text in changes.items()}
    assert bounces_record(report(message, **filled)) == Recorded(bounced=1)
    assert again(message).state == "bounced"


def test_the_same_report_twice_is_one_bounce() -> None:
    message = sent()
    assert bounces_record(report(message)) == Recorded(bounced=1)
    assert bounces_record(report(message)) == Recorded(known=1)


def test_a_report_about_somebody_else_s_mail_changes_nothing() -> None:
    message = sent()
    assert bounces_record(report()) == Recorded(others=1)
    assert again(message).state == "sent"


def test_a_mail_that_came_back_before_its_row_was_marked_is_not_sent_again() -> None:
    message = make_message()
    bounces_record(report(message))
    assert again(message).state == "bounced"
    assert drain(worker="test") == Drained()


def test_an_address_the_grower_has_no_longer_is_not_judged() -> None:
    message = sent()
    grower = message.plan.case.grower
    grower.email = "new@home.example"
    grower.save()
    bounces_record(report(message))
    assert again(message).state == "bounced"
    assert again(message).plan.case.grower.may_be_emailed


def test_what_came_back_is_shown_and_can_go_out_again_to_a_better_address(client: Client) -> None:
    message, person = sent(), make_staff()
    bounces_record(report(message))
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    for shown in (
        client.get(reverse("messages")),
        client.get(reverse("messages") + "?state=dead"),
        client.get(reverse("today")),
        client.get(reverse("plan-sending", args=[message.plan_id])),
    ):
        assert "came back" in shown.content.decode().lower()
        assert "no such mailbox" in shown.content.decode()
    grower = message.plan.case.grower
    grower.refresh_from_db()
    with pytest.raises(Exception, match="came back"):
        message_retry(message=again(message), by=person)
    grower.email, grower.email_unreachable_at, grower.email_unreachable_why = "ida@new.example", None, ""
    grower.save()
    message_retry(message=again(message), by=person)
    assert (again(message).state, again(message).to) == ("waiting", "ida@new.example")


# --- hostile ----------------------------------------------------------------------------------------
def _nested(depth: int) -> bytes:
    head = b"".join(
        b'Content-Type: multipart/report; boundary="b%d"\n\n--b%d\n' % (number, number)
        for number in range(depth)
    )
    return head + b"Content-Type: message/delivery-status\n\nA: b\n\nAction: failed\nStatus: 5.0.0\n"


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\x00\xff\xfe",
        b"Content-Type: multipart/report; boundary=\n\n--\n",
        b"Content-Type: message/delivery-status\n\n" + b"Action: failed\n" * 10_000,
        b"Content-Type: message/delivery-status\n\nX: y\n\n" + b"Action: failed\nStatus: 5.0.0\n\n" * 10_000,
        _nested(3000),
        b"Message-ID: " + b"<" * 200_000,
        b"Subject: =?utf-8?b?" + b"/" * 100_000,
    ],
    ids=["nothing", "bytes", "no-boundary", "fields", "blocks", "nested", "brackets", "encoded"],
)
def test_a_mail_made_to_break_the_reader_is_not_ours(raw: bytes) -> None:
    assert bounces_record(raw).bounced == 0


def test_a_mail_larger_than_any_report_is_not_read() -> None:
    message = sent()
    assert reports_read(report(message) + b"x" * MOST_BYTES) == []


def test_what_a_report_says_is_kept_short_and_without_control_characters() -> None:
    message = sent()
    bounces_record(report(message, why="550 \x1b[31mred\x07\u202e" + "y" * 5000))
    note = again(message).report_note
    assert note.isprintable()
    assert len(note) <= 500


def test_markup_in_a_report_is_shown_as_text(client: Client) -> None:
    message = sent()
    bounces_record(report(message, why="550 <script>alert(1)</script>"))
    client.force_login(make_staff(), backend="django.contrib.auth.backends.ModelBackend")
    shown = client.get(reverse("messages")).content.decode()
    assert "<script>alert" not in shown
    assert "&lt;script&gt;" in shown


@given(st.binary(max_size=2000))
def test_no_bytes_whatever_break_the_reader(raw: bytes) -> None:
    assert isinstance(reports_read(raw), list)
    assert isinstance(reports_read(report().replace(b"mx.example", raw, 1)), list)


# --- the command ------------------------------------------------------------------------------------
def run(*sources: object) -> str:
    out = io.StringIO()
    call_command("read-bounces", *map(str, sources), stdout=out, stderr=out)
    return out.getvalue()


def test_the_command_reads_files_and_maildirs_and_leaves_them_as_they_are(tmp_path: Path) -> None:
    first, second, third = sent(), sent(), sent()
    for part in ("new", "cur", "tmp"):
        (tmp_path / "box" / part).mkdir(parents=True)
    (tmp_path / "box" / "new" / "1").write_bytes(report(first))
    (tmp_path / "box" / "cur" / "2:2,S").write_bytes(report(second))
    (tmp_path / "box" / "tmp" / "3").write_bytes(report(third))  # still being written
    plain = EmailMessage()
    plain["Subject"] = "A question"
    plain.set_content("Hello")
    (tmp_path / "4.eml").write_bytes(bytes(plain))
    said = run(tmp_path / "box", tmp_path / "4.eml")
    assert "came back: 2, noted: 0, known: 0, not ours: 1" in said
    assert again(third).state == "sent"
    assert "came back: 0, noted: 0, known: 2" in run(tmp_path / "box")


def test_the_command_reads_one_mail_from_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    message = sent()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(report(message))))
    assert "came back: 1" in run("-")


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        run(tmp_path / "nothing.eml")
