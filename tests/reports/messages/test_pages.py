"""The pages of the outbox and the plan as PDF."""

import hashlib

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from consults.models import Plan
from reports.documents import kinds, views
from reports.messages.selectors import PAGE_SIZE
from reports.models import Document, Message
from reports.pdf import PdfUnavailable
from tests.reports.messages.making import (
    make_case,
    make_grower,
    make_message,
    make_plan,
    make_snapshot,
    make_staff,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def counter(client: Client) -> Client:
    client.force_login(make_staff("counter"), backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def consultant(client: Client) -> Client:
    client.force_login(make_staff(), backend="django.contrib.auth.backends.ModelBackend")
    return client


def page(client: Client, name: str, *key: int, query: str = "") -> str:
    response = client.get(reverse(name, args=key) + query)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.parametrize(("name", "keys"), [("messages", 0), ("plan-pdf", 1), ("plan-sending", 1)])
def test_nobody_sees_mail_or_plans_without_signing_in(client: Client, name: str, keys: int) -> None:
    response = client.get(reverse(name, args=[1] * keys))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("login"))


def test_an_empty_outbox_says_what_to_do_first(counter: Client) -> None:
    assert "Nothing has been emailed yet" in page(counter, "messages")
    assert "No message was given up" in page(counter, "messages", query="?state=dead")


def test_the_list_shows_state_address_subject_tries_and_trouble(counter: Client) -> None:
    message = make_message(
        state="dead", tries=3, last_error="The mail server refused the address: 550 <gone>"
    )
    shown = page(counter, "messages")
    for said in (message.to, message.subject, "given up", "3 tries.", "550 &lt;gone&gt;"):
        assert said in shown


def test_the_filter_leaves_only_what_was_given_up(counter: Client) -> None:
    dead, waiting = make_message(state="dead"), make_message()
    shown = page(counter, "messages", query="?state=dead")
    assert dead.to in shown
    assert waiting.to not in shown


def test_long_lists_come_in_pages_without_gaps_or_repeats(counter: Client) -> None:
    for number in range(PAGE_SIZE + 1):
        Message.objects.create(
            key=str(number),
            to=f"grower-{number}@home.example",
            subject="Plan",
            body="x",
            message_id=f"<{number}@x>",
        )
    first = page(counter, "messages")
    oldest_shown = Message.objects.order_by("-pk")[PAGE_SIZE - 1].pk
    assert f"?before={oldest_shown}" in first
    assert "grower-0@" not in first
    second = page(counter, "messages", query=f"?before={oldest_shown}")
    assert "grower-0@" in second
    assert "grower-1@" not in second
    assert "?before=" not in second


@pytest.mark.parametrize("before", ["x", "-1", "9" * 40, "²"])
def test_a_made_up_page_address_is_not_found(counter: Client, before: str) -> None:
    assert counter.get(reverse("messages"), {"before": before}).status_code == 404


def test_who_may_issue_plans_can_try_again(consultant: Client) -> None:
    message = make_message(state="dead", last_error="550")
    address = reverse("message-retry", args=[message.pk])
    assert f'action="{address}"' in page(consultant, "messages")
    response = consultant.post(address, follow=True)
    assert "in the queue again" in response.content.decode()
    message.refresh_from_db()
    assert message.state == "waiting"


def test_who_may_not_issue_plans_has_no_button_and_is_refused(counter: Client) -> None:
    message = make_message(state="dead")
    address = reverse("message-retry", args=[message.pk])
    assert address not in page(counter, "messages")
    assert counter.post(address).status_code == 403
    message.refresh_from_db()
    assert message.state == "dead"


def test_trying_again_what_was_sent_meanwhile_says_so(consultant: Client) -> None:
    message = make_message(state="sent", sent_at=timezone.now())
    response = consultant.post(reverse("message-retry", args=[message.pk]), follow=True)
    assert "already sent" in response.content.decode()


def test_trying_again_is_not_done_by_following_a_link(consultant: Client) -> None:
    message = make_message(state="dead")
    assert consultant.get(reverse("message-retry", args=[message.pk])).status_code == 405


def test_the_pdf_of_an_issued_plan_is_the_stored_one_every_time(counter: Client) -> None:
    plan = make_plan()
    first = counter.get(reverse("plan-pdf", args=[plan.pk]))
    again = counter.get(reverse("plan-pdf", args=[plan.pk]))
    assert first.status_code == 200
    assert first["Content-Type"] == "application/pdf"
    assert first["Content-Disposition"] == f'inline; filename="plan-{plan.case_id}-v1.pdf"'
    assert first["X-Content-Type-Options"] == "nosniff"
    assert set(first["Cache-Control"].split(", ")) >= {"private", "no-store"}
    assert first.content == again.content
    assert hashlib.sha256(first.content).hexdigest() == Document.objects.get(plan=plan).sha256


def test_a_replaced_mail_says_why_it_never_went_and_offers_no_second_try(consultant: Client) -> None:
    message = make_message(state="replaced")
    shown = page(consultant, "messages")
    assert "Not sent: a newer version of the plan was issued first." in shown
    assert reverse("message-retry", args=[message.pk]) not in shown
    assert message.to not in page(consultant, "messages", query="?state=dead")


def test_the_pdf_of_a_draft_is_for_those_who_make_plans(counter: Client) -> None:
    draft = Plan.objects.create(case=make_case(make_grower()), version=1)
    response = counter.get(reverse("plan-pdf", args=[draft.pk]))
    assert response.status_code == 403
    assert "prepare a plan" in response.content.decode()


def test_the_pdf_of_a_draft_is_made_for_the_look_and_not_kept(
    consultant: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = make_case(make_grower())
    draft = Plan.objects.create(case=case, version=1)
    monkeypatch.setattr(views, "build_snapshot", lambda plan: make_snapshot(plan.case))
    response = consultant.get(reverse("plan-pdf", args=[draft.pk]))
    assert response.content.startswith(b"%PDF-")
    assert not Document.objects.exists()


def test_without_what_makes_pdfs_the_page_says_so(counter: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def unavailable(*args: object) -> None:
        raise PdfUnavailable("Pango is missing.")

    monkeypatch.setattr(kinds, "render_plan", unavailable)
    response = counter.get(reverse("plan-pdf", args=[make_plan().pk]))
    assert response.status_code == 503
    assert "Pango is missing." in response.content.decode()


def test_a_plan_that_does_not_exist_is_not_found(counter: Client) -> None:
    assert counter.get(reverse("plan-pdf", args=[9])).status_code == 404
    assert counter.get(reverse("plan-sending", args=[9])).status_code == 404


def test_while_the_mail_waits_its_state_asks_again_every_two_seconds(counter: Client) -> None:
    message = make_message(last_error="The mail server could not be reached")
    shown = page(counter, "plan-sending", message.plan_id)
    assert f'hx-get="{reverse("plan-sending", args=[message.plan_id])}"' in shown
    assert 'hx-trigger="every 2s"' in shown
    assert "could not be reached" in shown


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"state": "sent", "sent_at": timezone.now()}, "The plan went to"),
        ({"state": "dead", "last_error": "550 no such user"}, "550 no such user"),
        ({"state": "replaced"}, "a newer version of the plan was issued first"),
    ],
)
def test_when_the_mail_is_sent_given_up_or_replaced_the_asking_ends(
    counter: Client, facts: dict, says: str
) -> None:
    message = make_message(**facts)
    shown = page(counter, "plan-sending", message.plan_id)
    assert says in shown
    assert "hx-get" not in shown


def test_a_plan_that_was_not_emailed_says_so(counter: Client) -> None:
    assert "was not emailed" in page(counter, "plan-sending", make_plan().pk)
