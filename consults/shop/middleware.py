"""Times are shown in the shop's own zone; addresses are counted as the front server saw them."""

import zoneinfo
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from consults.shop.selectors import shop_get


class ShopMiddleware:
    """Reads the shop's row once for each page: its time zone, and what the page's head shows."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path == "/health":  # must answer also when the database does not
            return self.get_response(request)
        request.shop = shop_get()  # type: ignore[attr-defined]
        with timezone.override(zoneinfo.ZoneInfo(request.shop.time_zone)):  # type: ignore[attr-defined]
            return self.get_response(request)


def client_address(request: HttpRequest) -> str:
    """The address attempts are counted by.

    Behind the front server of a production set-up the last entry of X-Forwarded-For is the one that server
    wrote itself; earlier entries are the visitor's own claim and are not believed.
    """
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", ""))
    if forwarded and getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        return forwarded.split(",")[-1].strip()
    return str(request.META.get("REMOTE_ADDR", ""))
