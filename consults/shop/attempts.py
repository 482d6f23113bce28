"""Guessing passwords: counted for each name at an address, and for an address over all names."""

from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _


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


def _failures_of_address(request: HttpRequest) -> int:
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
