"""Times are shown in the shop's own zone; addresses are counted as the front server saw them."""

import zoneinfo
from collections.abc import Callable

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from consults.shop.selectors import shop_get

_KEY = "shop-time-zone"


class ShopTimeMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path == "/health":
            return self.get_response(request)
        name = cache.get(_KEY)
        if name is None:
            name = shop_get().time_zone
            cache.set(_KEY, name, 60)
        with timezone.override(zoneinfo.ZoneInfo(name)):
            return self.get_response(request)


def forget_time_zone() -> None:
    """Call after the shop's time zone has changed."""
    cache.delete(_KEY)


def client_address(request: HttpRequest) -> str:
    """The address attempts are counted by.

    Behind the front server of a production set-up the last entry of X-Forwarded-For is the one that server
    wrote itself; earlier entries are the visitor's own claim and are not believed.
    """
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", ""))
    if forwarded and getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        return forwarded.split(",")[-1].strip()
    return str(request.META.get("REMOTE_ADDR", ""))
