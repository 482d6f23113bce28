"""Where there is Redis, all web processes share one count of failed sign-ins from an address."""

import redis as redis_library
from django.test import Client
from django.urls import reverse

from tests.factories import make_staff
from tests.servers import free_port, redis


def fail(client, name):
    return client.post(reverse("login"), {"username": name, "password": "wrong-word-here"})


def test_failures_are_counted_in_redis_and_shut_the_address_out(db, settings):
    settings.SIGN_IN_FAILURES_PER_ADDRESS = 3
    with redis() as address:
        settings.REDIS_URL = address
        answers = [fail(Client(), f"somebody-{n}").status_code for n in range(5)]
        assert answers[:3] == [200, 200, 200] or answers[:2] == [200, 200]
        assert answers[-1] == 429
        client = redis_library.Redis.from_url(address)
        (key,) = client.keys("desk:sign-in-failures:*")
        assert int(client.get(key)) >= 3
        assert 0 < client.ttl(key) <= 900
        assert fail(Client(), make_staff("counter").username).status_code == 429


def test_with_redis_gone_the_database_counts_and_signing_in_goes_on(db, settings):
    settings.SIGN_IN_FAILURES_PER_ADDRESS = 3
    settings.REDIS_URL = f"redis://127.0.0.1:{free_port()}/0"
    answers = [fail(Client(), f"somebody-{n}").status_code for n in range(5)]
    assert answers[0] == 200
    assert answers[-1] == 429
