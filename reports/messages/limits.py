"""Made-up links are counted for each address, as wrong passwords are, and with the same limits."""

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

from consults.shop.middleware import client_address


def _key(request: HttpRequest) -> str:
    return f"desk:bad-links:{client_address(request)[:60]}".replace(" ", "_")


def is_shut_out(request: HttpRequest) -> bool:
    """Whether too many made-up links came from this address lately. Counted in each web process."""
    return int(cache.get(_key(request), 0)) >= settings.SIGN_IN_FAILURES_PER_ADDRESS


def count_bad_link(request: HttpRequest) -> None:
    key = _key(request)
    if not cache.add(key, 1, timeout=int(settings.AXES_COOLOFF_TIME * 3600)):
        cache.incr(key)
