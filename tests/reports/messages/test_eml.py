"""Without a mail server each mail is a file."""

import email
import email.policy
import stat
from pathlib import Path

import pytest

from reports.messages.delivery import Drained, drain
from tests.reports.messages.making import make_message

pytestmark = pytest.mark.django_db


def test_each_mail_is_one_file_and_the_message_says_where(eml_folder: Path) -> None:
    first, second = make_message(), make_message()
    assert drain(worker="test") == Drained(sent=2)
    for message in (first, second):
        message.refresh_from_db()
        kept = email.message_from_bytes(Path(message.sent_as).read_bytes(), policy=email.policy.default)
        assert kept["To"] == message.to
        assert kept["Message-ID"] == message.message_id
        assert [part.get_content_type() for part in kept.iter_attachments()] == [
            "application/pdf",
            "text/calendar",
        ]
    files = list(eml_folder.iterdir())
    assert sorted(str(path) for path in files) == sorted([first.sent_as, second.sent_as])
    assert all(path.suffix == ".eml" for path in files)


def test_lines_end_as_mail_lines_do(eml_folder: Path) -> None:
    make_message()
    drain(worker="test")
    (path,) = eml_folder.iterdir()
    content = path.read_bytes()
    # RFC 5322 section 2.3, from memory: CR and LF only occur together.
    assert content.count(b"\r\n") == content.count(b"\n") == content.count(b"\r") > 20


def test_only_this_account_can_read_what_went_out(eml_folder: Path) -> None:
    make_message()
    drain(worker="test")
    (path,) = eml_folder.iterdir()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(eml_folder.stat().st_mode) == 0o700


def test_a_folder_that_cannot_be_written_keeps_the_message_with_the_reason(eml_folder: Path) -> None:
    eml_folder.write_text("a file stands in the way")
    message = make_message()
    assert drain(worker="test") == Drained(retried=1)
    message.refresh_from_db()
    assert "folder for outgoing mail" in message.last_error


def test_a_write_that_fails_half_way_leaves_no_file(
    eml_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("reports.messages.eml.os.fsync", full)
    message = make_message()
    assert drain(worker="test") == Drained(retried=1)
    assert not list(eml_folder.iterdir())
    message.refresh_from_db()
    assert "No space left" in message.last_error
