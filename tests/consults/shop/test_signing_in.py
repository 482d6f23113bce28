"""Getting in: strangers are led to the door and back, guessing is shut out, Redis is not needed."""

import json
import runpy
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from consults.project.settings import base
from tests.factories import PASSWORD, client_of, make_case, make_staff
from tests.servers import free_port

pytestmark = pytest.mark.django_db
SITE = "http://testserver"
# What an address may be taken for that leads to another site; from memory of how browsers read them.
ELSEWHERE = [
    "http://evil.example/cases/",
    "http://testserver//evil.example/",
    "//evil.example/",
    "http://[",
    "",
]


def sign_in(client, name, password=PASSWORD, **more):
    return client.post(reverse("login"), {"username": name, "password": password}, **more)


def next_of(address):
    assert urlsplit(address).path == reverse("login")
    return parse_qs(urlsplit(address).query).get("next", [""])[0]


# --- to the door and back -------------------------------------------------------------------------
def test_a_piece_of_a_page_sends_a_stranger_to_sign_in_and_back_to_the_whole_page(client):
    page = reverse("case", args=[1]) + "?part=roots"
    headers = {"HX-Request": "true", "HX-Current-URL": f"{SITE}{page}#story"}
    answer = client.post(reverse("case-story", args=[1]), headers=headers)
    assert (answer.status_code, answer.content) == (401, b"")
    assert next_of(answer["HX-Redirect"]) == page
    assert "Location" not in answer


@pytest.mark.parametrize("page", ELSEWHERE)
def test_a_piece_of_a_page_never_leads_to_another_site(client, page):
    headers = {"HX-Request": "true", "HX-Current-URL": page}
    answer = client.get(reverse("plan-sending", args=[1]), headers=headers)
    assert (answer.status_code, next_of(answer["HX-Redirect"])) == (401, "")


def test_a_stranger_who_asked_for_a_page_comes_back_to_it(client):
    assert next_of(client.get(reverse("growers") + "?q=ada")["Location"]) == reverse("growers") + "?q=ada"


def test_a_stranger_who_sent_a_form_comes_back_to_the_page_with_the_form(client):
    page = reverse("case", args=[1])
    answer = client.post(reverse("case-story", args=[1]), headers={"Referer": SITE + page})
    assert next_of(answer["Location"]) == page


@pytest.mark.parametrize("page", ELSEWHERE)
def test_a_form_of_unknown_origin_leads_to_the_start_page(client, page):
    answer = client.post(reverse("case-story", args=[1]), headers={"Referer": page})
    assert next_of(answer["Location"]) == ""


def test_signing_in_never_ends_at_an_address_that_shows_nothing(client):
    make_staff("counter", username="tilda")
    door = client.get(reverse("case-story", args=[make_case().pk]))["Location"]
    arrived = client.post(
        door, {"username": "tilda", "password": PASSWORD}, headers={"Referer": SITE + door}, follow=True
    )
    assert arrived.redirect_chain[-1][0] == reverse("today")
    assert "There was no page to go back to" in arrived.content.decode()


@pytest.mark.parametrize("referer", ["", "http://[", f"{SITE}/cases/"])
def test_an_address_for_forms_says_so_in_a_page_when_it_is_opened(referer):
    answer = client_of().get(reverse("case-story", args=[make_case().pk]), headers={"Referer": referer})
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "only takes what a form sends" in answer.content.decode()
    assert f'href="{reverse("today")}"' in answer.content.decode()


def test_sending_a_form_to_a_page_without_one_says_so_in_a_page():
    answer = client_of("manager").post(reverse("staff"))
    assert answer.status_code == 405
    assert "does not take what was sent" in answer.content.decode()


# --- guessing -------------------------------------------------------------------------------------
def test_five_wrong_passwords_shut_out_the_name_and_no_other(client):
    make_staff("counter", username="tilda")
    make_staff("counter", username="otto")
    for _ in range(4):
        assert sign_in(client, "tilda", "wrong").status_code == 200
    assert sign_in(client, "tilda", "wrong").status_code == 429
    answer = sign_in(client, "tilda")
    assert answer.status_code == 429
    assert "This name was tried" in answer.content.decode()
    assert sign_in(client, "otto").status_code == 302


def guess(times, address="192.0.2.7"):  # an address for documentation, RFC 5737
    browser = Client(REMOTE_ADDR=address)
    return [sign_in(browser, f"name-{number}", "wrong").status_code for number in range(times)]


def test_one_address_may_not_try_name_after_name(settings):
    make_staff("counter", username="tilda")
    limit = settings.SIGN_IN_FAILURES_PER_ADDRESS
    assert limit >= 30, "a whole shop sits behind one address"
    assert guess(limit) == [200] * (limit - 1) + [429]
    answer = sign_in(Client(REMOTE_ADDR="192.0.2.7"), "tilda")
    assert answer.status_code == 429
    assert "came from this address" in answer.content.decode()
    assert sign_in(Client(REMOTE_ADDR="192.0.2.8"), "tilda").status_code == 302


def test_one_good_account_buys_no_guesses_at_the_others(settings):
    make_staff("counter", username="tilda")
    guess(settings.SIGN_IN_FAILURES_PER_ADDRESS - 1)
    assert sign_in(Client(REMOTE_ADDR="192.0.2.7"), "tilda").status_code == 302
    assert guess(1) == [429]


def test_an_address_is_let_in_again_after_a_quarter_of_an_hour(settings, monkeypatch):
    make_staff("counter", username="tilda")
    guess(settings.SIGN_IN_FAILURES_PER_ADDRESS)
    now = timezone.now()
    for minutes, status in ((14, 429), (16, 302)):  # trying meanwhile does not prolong it
        monkeypatch.setattr("axes.handlers.proxy.now", lambda later=minutes: now + timedelta(minutes=later))
        assert sign_in(Client(REMOTE_ADDR="192.0.2.7"), "tilda").status_code == status


# --- Redis away -----------------------------------------------------------------------------------
@pytest.fixture
def redis_away(settings, monkeypatch):
    """The settings of a site with Redis, at an address where nothing answers."""
    address = f"redis://127.0.0.1:{free_port()}/0"
    monkeypatch.setenv("REDIS_URL", address)
    with_redis = runpy.run_path(base.__file__)
    assert with_redis["REDIS_URL"] == address
    for name in ("REDIS_URL", "CACHES", "SESSION_ENGINE", "AXES_HANDLER"):  # the handler asks for the cache
        if name in with_redis:
            setattr(settings, name, with_redis[name])


def test_with_redis_away_people_still_sign_in_and_wrong_passwords_still_count(redis_away, client):
    make_staff("counter", username="tilda")
    assert "do not fit together" in sign_in(client, "tilda", "wrong").content.decode()
    assert sign_in(client, "tilda").status_code == 302
    assert client.get(reverse("today")).status_code == 200
    for _ in range(5):
        answer = sign_in(client, "otto", "wrong")
    assert answer.status_code == 429


def test_with_redis_away_health_names_the_problem_and_pages_still_work(redis_away, client):
    answer = client.get(reverse("health"))
    report = json.loads(answer.content)
    assert report["problems"] == ["Redis does not answer: emails wait until it does."]
    assert (report["status"], answer.status_code) == ("troubled", 200)


def test_without_redis_in_the_settings_health_does_not_miss_it(client):
    report = json.loads(client.get(reverse("health")).content)
    assert (report["status"], report["problems"]) == ("ok", [])
