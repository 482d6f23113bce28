"""What every request passes: the sign-in, the shop's own time zone, a page for what was asked wrongly."""

import zoneinfo
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from consults.shop.selectors import shop_get
from garden.profiles.selectors import reference_current
from garden.reference.loader import using_reference

_HARMLESS = ("GET", "HEAD")


class SignInFirstMiddleware(LoginRequiredMiddleware):
    """Sends strangers to sign in, and from there back to the page they were on.

    The address they asked for is that page only when they asked for a whole page: a piece of one (htmx) would
    be shown alone, and what a form was sent to shows nothing.
    """

    def handle_no_permission(  # type: ignore[override]  # any answer will do, the stubs promise a redirect
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponseBase:
        if "HX-Request" in request.headers:
            answer = HttpResponse(status=401)
            answer["HX-Redirect"] = _sign_in(request, request.headers.get("HX-Current-URL", "")).url
            return answer
        if request.method not in _HARMLESS:
            return _sign_in(request, request.headers.get("Referer", ""))
        return super().handle_no_permission(request, view_func)


def _sign_in(request: HttpRequest, page: str) -> HttpResponseRedirect:
    back_to = _own_path(request, page)
    return redirect_to_login(back_to) if back_to else HttpResponseRedirect(resolve_url(settings.LOGIN_URL))


def _own_path(request: HttpRequest, address: str) -> str:
    """The path of an address of this site; "" for any other."""
    own = {"allowed_hosts": {request.get_host()}, "require_https": request.is_secure()}
    if not url_has_allowed_host_and_scheme(address, **own):  # type: ignore[arg-type]
        return ""
    parts = urlsplit(address)
    path = urlunsplit(("", "", parts.path, parts.query, ""))
    return path if path.startswith("/") and url_has_allowed_host_and_scheme(path, None) else ""


class ShopMiddleware:
    """Reads what is the shop's own once for each page: its row (time zone, the page's head), its crops."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path == "/health":  # must answer also when the database does not
            return self.get_response(request)
        request.shop = shop_get()  # type: ignore[attr-defined]
        zone = zoneinfo.ZoneInfo(request.shop.time_zone)  # type: ignore[attr-defined]
        with timezone.override(zone), using_reference(reference_current()):
            return self.get_response(request)


class WrongMethodMiddleware:
    """Django answers a method that an address does not take with nothing at all: say it in a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code != 405 or response.content:
            return response
        asked = request.method in _HARMLESS
        if asked and _comes_from_signing_in(request):
            messages.info(request, _("You are signed in. There was no page to go back to, so here is today."))
            return redirect("today")
        if asked:
            message = _("This address only takes what a form sends. Go back and use the form there.")
        else:
            message = _("This address does not take what was sent to it. Go back and try again.")
        page = render(
            request, "error.html", {"title": _("Nothing to show here"), "message": message}, status=405
        )
        page["Allow"] = response["Allow"]
        return page


def _comes_from_signing_in(request: HttpRequest) -> bool:
    """Whether the browser was led here by the sign-in page, which knew no better."""
    came_from = _own_path(request, request.headers.get("Referer", ""))
    return came_from.partition("?")[0] == resolve_url(settings.LOGIN_URL)


def client_address(request: HttpRequest) -> str:
    """The address attempts are counted by.

    Behind the front server of a production set-up the last entry of X-Forwarded-For is the one that server
    wrote itself; earlier entries are the visitor's own claim and are not believed.
    """
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", ""))
    if forwarded and getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        return forwarded.split(",")[-1].strip()
    return str(request.META.get("REMOTE_ADDR", ""))
