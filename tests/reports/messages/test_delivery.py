"""Draining the outbox against a real mail server in another process."""

import email.utils
from collections.abc import Callable
from datetime import UTC, timedelta
from typing import Any

import pytest
from django.core.mail.backends.smtp import EmailBackend
from django.db import connection
from django.utils import timezone

from reports.claims import LONGEST_PAUSE_S, MAX_TRIES, pause_s
from reports.documents.selectors import document_read
from reports.messages import delivery, mail
from reports.messages.delivery import LEASE, Drained, drain
from reports.messages.failures import PlanReplacedError
from reports.models import Document, Message
from reports.pdf import PdfUnavailable
from tests.reports.messages.making import announce, make_message, make_plan
from tests.servers import SmtpServer

pytestmark = pytest.mark.django_db


def test_a_waiting_message_is_sent_once_and_marked(mail_server: SmtpServer) -> None:
    message = make_message()
    assert drain(worker="test") == Drained(sent=1)
    assert drain(worker="test") == Drained()
    (delivered,) = mail_server.deliveries()
    assert delivered.recipients == (message.to,)
    message.refresh_from_db()
    assert message.state == "sent"
    assert message.sent_at is not None
    assert (message.claimed_by, message.claimed_until, message.last_error, message.sent_as) == (
        "",
        None,
        "",
        "",
    )


def test_the_mail_carries_text_html_and_the_stored_plan(mail_server: SmtpServer) -> None:
    message = make_message()
    drain(worker="test")
    sent = mail_server.deliveries()[0].message
    assert sent["Subject"] == message.subject
    assert sent["Message-ID"] == message.message_id
    assert sent["Auto-Submitted"] == "auto-generated"  # RFC 3834 section 5, from memory
    assert sent["Reply-To"] == "desk@bench.example"
    written = email.utils.parsedate_to_datetime(sent["Date"]).replace(tzinfo=UTC)  # it says -0000
    assert abs(written - timezone.now()) < timedelta(minutes=5)
    assert sent.get_body(("plain",)).get_content().splitlines() == message.body.splitlines()
    assert "Hello Ida Moss" in sent.get_body(("html",)).get_content()
    attached, _entry = sent.iter_attachments()
    plan = message.plan
    assert attached.get_filename() == f"plan-{plan.case_id}-v{plan.version}.pdf"
    assert attached.get_content_type() == "application/pdf"
    assert attached.get_content() == document_read(Document.objects.get(plan=plan))
    assert attached.get_content().startswith(b"%PDF-")


def test_what_a_grower_is_called_cannot_become_markup(mail_server: SmtpServer) -> None:
    message = make_message()
    Message.objects.filter(pk=message.pk).update(body="Hello <script>alert(1)</script>")
    drain(worker="test")
    assert "<script" not in mail_server.deliveries()[0].message.get_body(("html",)).get_content()


def test_a_later_try_sends_the_very_same_document(mail_server: SmtpServer) -> None:
    message = make_message()
    mail_server.answer(message.to, 451, at="data")
    drain(worker="test")
    first = Document.objects.get(plan=message.plan)
    mail_server.answer(message.to, 250)
    drain(worker="test", now=timezone.now() + timedelta(hours=1))
    assert Document.objects.get(plan=message.plan) == first


@pytest.mark.parametrize("at", ["rcpt", "data"])
def test_a_refusal_for_now_is_tried_again_with_growing_pauses_until_it_goes(
    mail_server: SmtpServer, at: str
) -> None:
    message = make_message()
    mail_server.answer(message.to, 451, at=at)
    now, pauses = timezone.now(), []
    for _ in range(4):
        assert drain(worker="test", now=now) == Drained(retried=1)
        message.refresh_from_db()
        assert (message.state, message.claimed_until) == ("waiting", None)
        assert "451" in message.last_error
        pauses.append(message.due_at - now)
        assert drain(worker="test", now=message.due_at - timedelta(seconds=1)) == Drained()
        now = message.due_at
    assert pauses == sorted(pauses)
    assert pauses[-1] > 10 * pauses[0]
    mail_server.answer(message.to, 250)
    assert drain(worker="test", now=now) == Drained(sent=1)
    assert len(mail_server.deliveries()) == 1


def test_pauses_grow_differ_by_chance_and_are_capped() -> None:
    for tries in range(1, MAX_TRIES + 1):
        drawn = {pause_s(tries) for _ in range(50)}
        assert len(drawn) > 1
        assert max(drawn) <= LONGEST_PAUSE_S
        if tries <= 6:
            assert max(drawn) < min(pause_s(tries + 1) for _ in range(50))


def test_all_tries_together_outlast_a_night() -> None:
    hours = sum(pause_s(tries) for tries in range(1, MAX_TRIES)) / 3600
    assert 10 <= hours <= 16


@pytest.mark.parametrize("at", ["rcpt", "data"])
def test_a_final_refusal_is_given_up_at_once_with_the_reason(mail_server: SmtpServer, at: str) -> None:
    message = make_message()
    mail_server.answer(message.to, 550, at=at)
    assert drain(worker="test") == Drained(dead=1)
    message.refresh_from_db()
    assert message.state == "dead"
    assert "The mail server refused" in message.last_error
    assert "550 answered so on request" in message.last_error


def test_one_refused_address_does_not_stop_the_others(mail_server: SmtpServer) -> None:
    refused, other = make_message(), make_message()
    mail_server.answer(refused.to, 550)
    assert drain(worker="test") == Drained(sent=1, dead=1)
    assert mail_server.deliveries()[0].recipients == (other.to,)


def test_after_the_last_try_a_message_is_given_up(mail_server: SmtpServer) -> None:
    message = make_message(tries=MAX_TRIES - 1)
    mail_server.answer(message.to, 451)
    assert drain(worker="test") == Drained(dead=1)


def test_a_message_whose_every_try_was_broken_off_is_given_up_unsent(mail_server: SmtpServer) -> None:
    message = make_message(tries=MAX_TRIES)
    assert drain(worker="test") == Drained(dead=1)
    message.refresh_from_db()
    assert "broken off" in message.last_error
    assert not mail_server.deliveries()


def test_a_server_that_is_not_there_costs_one_message_a_try_and_ends_the_drain(no_mail_server: None) -> None:
    first, second = make_message(), make_message()
    assert drain(worker="test") == Drained(retried=1)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.tries, second.tries) == (1, 0)
    assert "could not be reached" in first.last_error


def test_what_is_not_due_yet_waits(mail_server: SmtpServer) -> None:
    make_message(due_at=timezone.now() + timedelta(minutes=5))
    assert drain(worker="test") == Drained()
    assert drain(worker="test", now=timezone.now() + timedelta(minutes=6)) == Drained(sent=1)


def test_what_somebody_else_holds_is_left_alone_until_the_lease_has_run_out(mail_server: SmtpServer) -> None:
    now = timezone.now()
    make_message(claimed_by="somebody", claimed_until=now + LEASE)
    assert drain(worker="test", now=now + LEASE) == Drained()
    assert drain(worker="test", now=now + LEASE + timedelta(seconds=1)) == Drained(sent=1)


def test_of_two_that_found_the_same_message_only_the_first_takes_it(mail_server: SmtpServer) -> None:
    message = make_message()
    other: list[Drained] = []

    def meanwhile(execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        if sql.startswith("UPDATE") and not other:
            other.append(Drained())
            other[0] = drain(worker="other")
        return execute(sql, *rest)

    with connection.execute_wrapper(meanwhile):
        assert drain(worker="test") == Drained()
    assert other == [Drained(sent=1)]
    message.refresh_from_db()
    assert (message.state, message.tries, message.claimed_by) == ("sent", 1, "")


def test_a_drain_that_lost_its_claim_while_preparing_sends_nothing(
    mail_server: SmtpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    message = make_message()

    def slow(message: Message) -> object:
        Message.objects.filter(pk=message.pk).update(claimed_by="somebody else")
        return mail.mail_build(message)

    monkeypatch.setattr(delivery, "mail_build", slow)
    assert drain(worker="test") == Drained()
    assert not mail_server.deliveries()
    message.refresh_from_db()
    assert (message.state, message.claimed_by) == ("waiting", "somebody else")


def test_no_more_than_the_limit_is_taken_and_the_oldest_goes_first(mail_server: SmtpServer) -> None:
    young, old = make_message(), make_message(due_at=timezone.now() - timedelta(hours=1))
    assert drain(worker="test", limit=1) == Drained(sent=1)
    old.refresh_from_db()
    young.refresh_from_db()
    assert (old.state, young.state) == ("sent", "waiting")


def test_nothing_goes_out_once_the_consent_was_taken_back(mail_server: SmtpServer) -> None:
    message = make_message()
    grower = message.plan.case.grower
    grower.email_consent_at = None
    grower.save()
    assert drain(worker="test") == Drained(withheld=1)
    assert not mail_server.deliveries()
    message.refresh_from_db()
    assert (message.state, message.claimed_by) == ("withheld", "")
    assert "no longer agrees" in message.last_error


def test_a_machine_that_cannot_make_pdfs_tries_again_later_and_says_why(
    mail_server: SmtpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unavailable(plan: object) -> None:
        raise PdfUnavailable("Pango is missing.")

    monkeypatch.setattr(mail, "document_get_or_render", unavailable)
    message = make_message()
    assert drain(worker="test") == Drained(retried=1)
    message.refresh_from_db()
    assert "Pango is missing." in message.last_error


def test_a_fault_of_our_own_is_tried_again_and_does_not_stop_the_others(
    mail_server: SmtpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken, _whole = make_message(), make_message()

    def build(message: Message) -> object:
        return mail.mail_build(message) if message.pk != broken.pk else 1 / 0

    monkeypatch.setattr(delivery, "mail_build", build)
    assert drain(worker="test") == Drained(sent=1, retried=1)
    broken.refresh_from_db()
    assert "ZeroDivisionError" in broken.last_error


def test_a_line_break_smuggled_into_a_header_never_reaches_the_server(mail_server: SmtpServer) -> None:
    message = make_message(subject="Plan\r\nBcc: all@home.example")
    assert drain(worker="test") == Drained(dead=1)
    assert not mail_server.deliveries()
    message.refresh_from_db()
    assert "line break" in message.last_error


def test_a_message_without_a_plan_is_sent_too(mail_server: SmtpServer) -> None:
    Message.objects.create(
        key="other:1", to="ida@home.example", subject="Hello", body="Hello", message_id="<other@home.example>"
    )
    assert drain(worker="test") == Drained(sent=1)
    assert not list(mail_server.deliveries()[0].message.iter_attachments())


def test_a_lost_document_is_said_and_tried_again(mail_server: SmtpServer) -> None:
    message = make_message()
    mail_server.answer(message.to, 451)
    drain(worker="test")
    stored = Document.objects.get(plan=message.plan)
    stored.file.storage.delete(stored.file.name)
    assert drain(worker="test", now=timezone.now() + timedelta(hours=1)) == Drained(retried=1)
    message.refresh_from_db()
    assert "the stored file is missing" in message.last_error


def test_an_issued_plan_has_one_document_however_many_ask(mail_server: SmtpServer) -> None:
    plan = make_plan()
    first = mail.document_get_or_render(plan)
    assert mail.document_get_or_render(plan) == first
    assert first.pages >= 1


def test_only_the_newest_version_of_a_plan_goes_out(mail_server: SmtpServer) -> None:
    old = make_message()
    mail_server.answer(old.to, 451)
    assert drain(worker="test") == Drained(retried=1)
    mail_server.answer(old.to, 250)
    announce(make_plan(case=old.plan.case, version=2))
    later = timezone.now() + timedelta(hours=1)
    assert drain(worker="test", now=later) == Drained(sent=1)
    (delivered,) = mail_server.deliveries()
    attached = next(delivered.message.iter_attachments())
    assert attached.get_filename().endswith("-v2.pdf")


def test_a_message_of_a_replaced_plan_that_still_waits_is_not_built_and_ends(mail_server: SmtpServer) -> None:
    old, other = make_message(), make_message()
    make_plan(case=old.plan.case, version=2)  # issued by a program that did not look after older mail
    with pytest.raises(PlanReplacedError):
        mail.mail_build(old)
    assert drain(worker="test") == Drained(sent=1)
    assert mail_server.deliveries()[0].recipients == (other.to,)
    old.refresh_from_db()
    assert old.state == "replaced"


def test_a_plan_replaced_while_its_mail_is_prepared_is_not_sent(
    mail_server: SmtpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = make_message()

    def slow(message: Message) -> object:
        built = mail.mail_build(message)
        announce(make_plan(case=message.plan.case, version=2), send_email=False)
        return built

    monkeypatch.setattr(delivery, "mail_build", slow)
    assert drain(worker="test") == Drained()
    assert not mail_server.deliveries()
    old.refresh_from_db()
    assert old.state == "replaced"


def test_a_plan_replaced_while_the_server_takes_its_mail_is_marked_as_sent(
    mail_server: SmtpServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = make_message()
    send = EmailBackend.send_messages

    def and_then_replace(backend: EmailBackend, mails: Any) -> Any:
        taken = send(backend, mails)
        announce(make_plan(case=old.plan.case, version=2), send_email=False)
        return taken

    monkeypatch.setattr(EmailBackend, "send_messages", and_then_replace)
    assert drain(worker="test") == Drained(sent=1)
    assert len(mail_server.deliveries()) == 1
    old.refresh_from_db()
    assert (old.state, old.claimed_by) == ("sent", "")
