"""Guessing passwords: counted for each name at an address, and for an address over all names."""

import logging
from typing import Any

import redis
from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from consults.shop.health import redis_client

log = logging.getLogger("desk.access")


class AttemptsHandler(AxesDatabaseHandler):  # type: ignore[misc]
    """Also shuts out an address from which many names were tried.

    Its limit is far higher than a name's, and signing in forgives only what was mistyped for that one name:
    one good account must not buy endless guesses at the others.
    """

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        by_name: int = super().get_failures(request, credentials)
        request.address_is_shut_out = (  # type: ignore[attr-defined]
            _failures_of_address(request) >= settings.SIGN_IN_FAILURES_PER_ADDRESS
        )
        if request.address_is_shut_out:  # type: ignore[attr-defined]
            return max(by_name, settings.AXES_FAILURE_LIMIT)
        return by_name

    def user_login_failed(
        self, sender: Any, credentials: dict[str, Any], request: HttpRequest | None = None, **kwargs: Any
    ) -> None:
        super().user_login_failed(sender, credentials, request, **kwargs)
        if request is not None:
            _count_for_address(request)


def _key(request: HttpRequest) -> str:
    return f"desk:sign-in-failures:{request.axes_ip_address}"  # type: ignore[attr-defined]


def _count_for_address(request: HttpRequest) -> None:
    """One more, in the counter all web processes share; it forgets after the cool-off time."""
    if not settings.REDIS_URL:
        return
    try:
        with redis_client() as client, client.pipeline() as both:
            both.incr(_key(request))
            both.expire(_key(request), int(settings.AXES_COOLOFF_TIME * 3600), nx=True)
            both.execute()
    except (redis.RedisError, OSError):
        log.warning("Redis does not answer; failed sign-ins are counted in the database.")


def _failures_of_address(request: HttpRequest) -> int:
    """Lately failed sign-ins from this address: from Redis where there is one, else from the database."""
    if settings.REDIS_URL:
        try:
            with redis_client() as client:
                return int(client.get(_key(request)) or 0)
        except (redis.RedisError, OSError):
            log.warning("Redis does not answer; failed sign-ins are counted in the database.")
    lately = AccessAttempt.objects.filter(
        ip_address=request.axes_ip_address,  # type: ignore[attr-defined]
        attempt_time__gte=get_cool_off_threshold(request),
    )
    return lately.aggregate(all=Sum("failures_since_start"))["all"] or 0


def locked_out(request: HttpRequest, response: HttpResponse | None, credentials: Any) -> HttpResponse:
    """The page instead of another try."""
    if not getattr(request, "address_is_shut_out", False):
        return render(request, "locked_out.html", status=429)
    message = _(
        "Too many wrong names and passwords came from this address."
        " Wait a quarter of an hour, then try again."
    )
    return render(request, "error.html", {"title": _("Too many attempts"), "message": message}, status=429)
