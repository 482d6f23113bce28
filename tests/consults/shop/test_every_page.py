"""Every address of the site, as a stranger meets it."""

import re

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

pytestmark = pytest.mark.django_db
FOR_EVERYBODY = {"login", "health"}
# Growers come by a signed link and get nothing without it.
BY_LINK = {"check-in", "check-in-sent", "reminders-stop", "reminders-stop-one-click"}


def addresses(patterns, before=""):
    for pattern in patterns:
        here = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, here)
        elif isinstance(pattern, URLPattern):
            yield pattern.name, "/" + re.sub(r"<[^>]+>", "1", here)


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_is_sent_to_sign_in_from_every_page(client, method):
    open_doors, walked = [], 0
    for name, address in addresses(get_resolver().url_patterns):
        if name in FOR_EVERYBODY | BY_LINK:
            continue
        walked += 1
        page = getattr(client, method)(address)
        if page.status_code != 302 or not page["Location"].startswith(reverse("login")):
            open_doors.append((name, address, page.status_code))
    assert open_doors == []
    assert walked > 20


@pytest.mark.parametrize("name", sorted(BY_LINK))
def test_a_page_for_growers_is_closed_without_its_link(client, name):
    for asked in (client.get, client.post):
        page = asked(reverse(name, args=["1"]))
        assert page.status_code in (404, 405), (name, page.status_code)


def test_signing_in_and_health_are_open_to_everybody(client):
    assert client.get(reverse("login")).status_code == 200
    assert client.get(reverse("health")).status_code == 200
