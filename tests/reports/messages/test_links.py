"""The link under a mail: ends reminders, needs no sign-in, tells nothing, and works for nothing else."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.core.signing import TimestampSigner
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from reports.messages.links import LIFETIME, LinkError, masked, stop_address, stop_token, stop_token_read
from reports.models import Message
from tests.reports.messages.making import make_message

pytestmark = pytest.mark.django_db
ONE_CLICK = {"List-Unsubscribe": "One-Click"}


@pytest.fixture(autouse=True)
def _no_counts() -> None:
    cache.clear()


def page(token: str) -> str:
    return reverse("reminders-stop", args=[token])


def one_click(token: str) -> str:
    return reverse("reminders-stop-one-click", args=[token])


def wishes(message: Message) -> tuple[bool, bool]:
    """Whether the grower may be emailed, and reminded."""
    grower = Message.objects.get(pk=message.pk).plan.case.grower
    return grower.may_be_emailed, grower.may_be_reminded


def test_following_the_link_asks_and_the_button_ends_reminders_but_not_plans() -> None:
    message = make_message()
    strict = Client(enforce_csrf_checks=True)
    asked = strict.get(page(stop_token(message)))
    assert "No more reminders" in asked.content.decode()
    assert wishes(message) == (True, True)
    key = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', asked.content.decode()).group(1)
    strict.post(page(stop_token(message)), {"csrfmiddlewaretoken": key})
    assert wishes(message) == (True, False)
    grower = Message.objects.get(pk=message.pk).plan.case.grower
    assert grower.reminders_stopped_how == "by-link"
    assert grower.history.first().history_change_reason == "By the link in an email"
    assert "No more reminders go to" in strict.get(page(stop_token(message))).content.decode()


def test_who_pressed_the_wrong_button_can_take_it_back(client: Client) -> None:
    message = make_message()
    client.post(page(stop_token(message)))
    client.post(page(stop_token(message)), {"again": "1"})
    assert wishes(message) == (True, True)


def test_the_mailbox_s_own_button_ends_reminders_with_one_post_and_no_cookie() -> None:
    message = make_message()
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(one_click(stop_token(message)), ONE_CLICK)
    assert answer.status_code == 200
    assert wishes(message) == (True, False)
    assert strict.post(one_click(stop_token(message)), ONE_CLICK).status_code == 200


def test_a_browser_that_comes_to_the_one_click_address_is_asked_first(client: Client) -> None:
    message = make_message()
    assert client.get(one_click(stop_token(message)))["Location"] == page(stop_token(message))
    assert client.post(one_click(stop_token(message)), {}).status_code == 400
    assert wishes(message) == (True, True)


def test_the_page_s_own_form_is_guarded_against_other_sites() -> None:
    message = make_message()
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(page(stop_token(message)), ONE_CLICK).status_code == 403
    assert wishes(message) == (True, True)


def test_the_page_tells_nothing_of_the_grower_but_a_masked_address(client: Client) -> None:
    message = make_message()
    shown = client.get(page(stop_token(message)))
    text = shown.content.decode()
    assert masked(message.to) in text
    for private in (message.to, "Ida", "Moss", "Plan", "case"):
        assert private not in text.replace(page(stop_token(message)), "").replace("A plan", "")
    assert shown["X-Robots-Tag"] == "noindex"
    assert shown["Referrer-Policy"] == "same-origin"
    assert "no-store" in shown["Cache-Control"]


@pytest.mark.parametrize(
    ("address", "shown"), [("ida@home.example", "i…@h….example"), ("x@y", "x…@y…"), ("", "…@…")]
)
def test_an_address_is_masked(address: str, shown: str) -> None:
    assert masked(address) == shown


def test_a_link_that_was_changed_made_for_something_else_or_is_too_old_does_nothing(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    message = make_message()
    good = stop_token(message)
    other = TimestampSigner(salt="password").sign(str(message.pk))
    plain = TimestampSigner().sign(str(message.pk))
    pk, rest = good.split(":", 1)
    for token in (good[:-1], f"{int(pk) + 1}:{rest}", other, plain, "x", "1:2:3", "9" * 300):
        with pytest.raises(LinkError):
            stop_token_read(token)
        assert client.post(page(token)).status_code == 404
        assert client.post(one_click(token), ONE_CLICK).status_code == 404
    later = (timezone.now() + LIFETIME + timedelta(hours=1)).timestamp()
    monkeypatch.setattr("django.core.signing.time.time", lambda: later)
    with pytest.raises(LinkError):
        stop_token_read(good)
    assert wishes(message) == (True, True)


def test_an_address_that_belongs_to_somebody_else_by_now_is_not_spoken_for(client: Client) -> None:
    message = make_message()
    grower = message.plan.case.grower
    grower.email = "new@home.example"
    grower.save()
    assert "does not write to" in client.get(page(stop_token(message))).content.decode()
    client.post(page(stop_token(message)))
    assert wishes(message) == (True, True)


def test_trying_many_made_up_links_is_stopped_and_others_are_not(client: Client, settings: Any) -> None:
    message = make_message()
    for _ in range(settings.SIGN_IN_FAILURES_PER_ADDRESS):
        assert client.get(page("made-up")).status_code == 404
    assert client.get(page("made-up")).status_code == 429
    assert client.get(page(stop_token(message))).status_code == 429
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    assert elsewhere.get(page(stop_token(message))).status_code == 200


def test_good_links_are_not_counted(client: Client, settings: Any) -> None:
    message = make_message()
    for _ in range(settings.SIGN_IN_FAILURES_PER_ADDRESS + 1):
        assert client.post(one_click(stop_token(message)), ONE_CLICK).status_code == 200


def test_without_a_known_address_of_the_site_there_is_no_link(settings: Any) -> None:
    message = make_message()
    assert stop_address(message) == ""
    settings.SITE_URL = "https://desk.shop.example/"
    assert stop_address(message).startswith("https://desk.shop.example/reminders/stop/")
