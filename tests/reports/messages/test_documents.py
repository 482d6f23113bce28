"""Documents made in the background: issued at once, made later, the kept file is what is mailed."""

import threading
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from reports.claims import MAX_TRIES
from reports.documents import kinds, making, services
from reports.documents.making import LEASE, make_documents
from reports.documents.selectors import document_read
from reports.messages import background
from reports.messages.delivery import Drained, drain
from reports.messages.work import work_once
from reports.models import Document, Message
from reports.pdf import PdfRefused, PdfUnavailable, Rendered
from tests.reports.messages.making import announce, make_plan, make_staff
from tests.servers import SmtpServer

pytestmark = pytest.mark.django_db


def raising(error: Exception) -> Any:
    def fail(*args: object, **kwargs: object) -> None:
        raise error

    return fail


def issued() -> Document:
    plan = make_plan()
    announce(plan)
    return Document.objects.get(plan=plan)


@pytest.fixture
def in_background(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A site whose own thread does the work, and has not come round to it yet."""
    settings.BACKGROUND_THREAD = True
    monkeypatch.setattr(background, "wake", lambda: None)
    monkeypatch.setattr(background, "_wanted", threading.Event())  # no thread is left wanted afterwards


@pytest.fixture
def consultant(client: Client) -> Client:
    client.force_login(make_staff(), backend="django.contrib.auth.backends.ModelBackend")
    return client


# --- making ---------------------------------------------------------------------------------------
def test_issuing_notes_the_document_and_makes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kinds, "render_plan", raising(AssertionError("rendered while issuing")))
    document = issued()
    assert (document.kind, document.state, document.file.name) == ("plan", "waiting", "")


def test_issuing_without_email_notes_the_document_too() -> None:
    announce(make_plan(), send_email=False)
    assert Document.objects.get().state == "waiting"


def test_work_makes_the_document_and_then_mails_the_very_same_bytes(mail_server: SmtpServer) -> None:
    document = issued()
    assert work_once(worker="test") == (1, Drained(sent=1))
    document.refresh_from_db()
    assert (document.state, document.claimed_by, document.pages) == ("ready", "", 1)
    attached = next(mail_server.deliveries()[0].message.iter_attachments())
    assert attached.get_content() == document_read(document)


def test_a_document_is_made_from_the_snapshot_and_not_from_what_changed_since() -> None:
    document = issued()
    grower = document.plan.case.grower
    grower.name = "Somebody Else"
    grower.save()
    assert b"%PDF-" in document_read(services.document_get_or_render(document.plan))
    assert document.plan.snapshot["grower"]["name"] == "Ida Moss"


def test_what_cannot_be_made_now_is_tried_again_later_and_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    document = issued()
    with monkeypatch.context() as broken:
        broken.setattr(kinds, "render_plan", raising(PdfUnavailable("Pango is missing.")))
        assert make_documents(worker="test") == 1
        assert make_documents(worker="test") == 0
    document.refresh_from_db()
    assert (document.state, document.tries, document.last_error) == ("waiting", 1, "Pango is missing.")
    assert make_documents(worker="test", now=document.due_at) == 1
    document.refresh_from_db()
    assert (document.state, document.last_error) == ("ready", "")


@pytest.mark.parametrize(
    ("error", "tries", "says"),
    [
        (PdfRefused("It asked for a web page."), 0, "web page"),
        (PdfUnavailable("Pango is missing."), MAX_TRIES - 1, "Pango"),
        (ZeroDivisionError(), MAX_TRIES - 1, "ZeroDivisionError"),
    ],
)
def test_what_can_never_be_made_or_failed_too_often_waits_for_somebody(
    monkeypatch: pytest.MonkeyPatch, error: Exception, tries: int, says: str
) -> None:
    document = issued()
    Document.objects.update(tries=tries)
    monkeypatch.setattr(kinds, "render_plan", raising(error))
    make_documents(worker="test")
    document.refresh_from_db()
    assert document.state == "failed"
    assert says in document.last_error


def test_a_document_that_brings_its_worker_down_every_time_is_given_up() -> None:
    document = issued()
    Document.objects.update(tries=MAX_TRIES)
    make_documents(worker="test")
    document.refresh_from_db()
    assert (document.state, document.last_error) == ("failed", "Every try was broken off before it ended.")


def test_a_full_disk_leaves_no_half_file_and_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    document = issued()
    kept: list[str] = []

    def half(name: str, content: Any, **kwargs: Any) -> str:
        kept.append(name)
        path = Path(default_storage.path(name))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"%PDF-half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(type(default_storage._wrapped), "save", lambda self, *a, **k: half(*a, **k))
    make_documents(worker="test")
    document.refresh_from_db()
    assert document.state == "waiting"
    assert "No space left" in document.last_error
    assert not default_storage.exists(kept[0])


def test_a_worker_that_died_holds_a_document_only_until_its_lease_is_over() -> None:
    document = issued()
    now = timezone.now()
    Document.objects.update(claimed_by="dead", claimed_until=now + LEASE)
    assert make_documents(worker="test", now=now + LEASE) == 0
    assert make_documents(worker="test", now=now + LEASE + timedelta(seconds=1)) == 1
    document.refresh_from_db()
    assert document.state == "ready"


def test_a_mail_waits_while_its_document_is_in_the_making_and_others_do_not(mail_server: SmtpServer) -> None:
    document, other = issued(), issued()
    Document.objects.filter(pk=document.pk).update(claimed_by="x", claimed_until=timezone.now() + LEASE)
    assert drain(worker="test") == Drained(sent=1)
    assert Message.objects.get(plan=other.plan).state == "sent"
    assert Message.objects.get(plan=document.plan).tries == 0


def test_of_two_who_made_the_same_document_the_first_one_stays_and_one_file(
    settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    document = issued()
    assert services.document_keep(document, Rendered(pdf=b"first", pages=1, undrawn=0))
    assert not services.document_keep(document, Rendered(pdf=b"second", pages=1, undrawn=0))
    document.refresh_from_db()
    assert document_read(document) == b"first"
    assert len(list((tmp_path / "documents").iterdir())) == 1


# --- pages ----------------------------------------------------------------------------------------
def test_until_the_pdf_is_made_its_link_says_so_and_looks_again(
    in_background: None, consultant: Client
) -> None:
    document = issued()
    address = reverse("plan-pdf", args=[document.plan_id])
    answer = consultant.get(address)
    assert answer.status_code == 202
    assert answer["Retry-After"] == "2"
    assert "no-store" in answer["Cache-Control"]
    assert "The PDF is being made" in answer.content.decode()
    piece = consultant.get(reverse("plan-document", args=[document.plan_id])).content.decode()
    assert 'hx-trigger="every 2s"' in piece
    assert address not in piece
    make_documents(worker="test")
    piece = consultant.get(reverse("plan-document", args=[document.plan_id])).content.decode()
    assert "hx-get" not in piece
    assert address in piece
    assert consultant.get(address).content.startswith(b"%PDF-")


def test_a_plan_issued_before_there_were_workers_gets_its_document_too(
    in_background: None, consultant: Client
) -> None:
    plan = make_plan()
    assert consultant.get(reverse("plan-pdf", args=[plan.pk])).status_code == 202
    assert make_documents(worker="test") == 1
    assert consultant.get(reverse("plan-pdf", args=[plan.pk])).status_code == 200


def test_where_nobody_works_in_the_background_the_link_makes_the_pdf(consultant: Client) -> None:
    document = issued()
    assert consultant.get(reverse("plan-pdf", args=[document.plan_id])).status_code == 200


def test_a_document_that_failed_says_why_and_who_may_issue_can_try_again(
    in_background: None, consultant: Client
) -> None:
    document = issued()
    Document.objects.update(state="failed", last_error="It asked for <b>.", tries=3)
    again = reverse("plan-document-again", args=[document.plan_id])
    page = consultant.get(reverse("plan-pdf", args=[document.plan_id]))
    assert page.status_code == 503
    for shown in (page, consultant.get(reverse("plan-document", args=[document.plan_id]))):
        assert "It asked for &lt;b&gt;." in shown.content.decode()
        assert f'action="{again}"' in shown.content.decode()
    answer = consultant.post(again)
    assert answer["Location"] == reverse("plan", args=[document.plan_id])
    document.refresh_from_db()
    assert (document.state, document.tries) == ("waiting", 0)


def test_a_document_that_is_ready_is_not_made_again(consultant: Client) -> None:
    document = issued()
    make_documents(worker="test")
    document.refresh_from_db()
    consultant.post(reverse("plan-document-again", args=[document.plan_id]))
    after = Document.objects.get(pk=document.pk)
    assert (after.state, after.sha256, after.file.name) == ("ready", document.sha256, document.file.name)


def test_who_may_not_issue_plans_cannot_have_it_made_again(client: Client) -> None:
    document = issued()
    client.force_login(make_staff("counter"), backend="django.contrib.auth.backends.ModelBackend")
    Document.objects.update(state="failed")
    again = reverse("plan-document-again", args=[document.plan_id])
    assert again not in client.get(reverse("plan-document", args=[document.plan_id])).content.decode()
    assert client.post(again).status_code == 403


def test_one_load_of_documents_leaves_the_rest_for_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(3):
        issued()
    monkeypatch.setattr(making, "document_render", lambda document: Rendered(b"x", 1, 0))
    assert make_documents(worker="test", limit=2) == 2
    assert make_documents(worker="test", limit=2) == 1
