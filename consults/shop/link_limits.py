"""Made-up links are counted for each address, as wrong passwords are, and with the same limits."""

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

from consults.shop.middleware import client_address


def count_up(key: str) -> int:
    """One more under `key`; how many there are now, since the last pause. Counted in each web process."""
    cache.add(key, 0, timeout=int(settings.AXES_COOLOFF_TIME * 3600))
    try:
        return int(cache.incr(key))
    except ValueError:  # it ran out just now
        return 1


def is_shut_out(request: HttpRequest) -> bool:
    """Whether too many made-up links came from this address lately."""
    return int(cache.get(_key(request), 0)) >= settings.SIGN_IN_FAILURES_PER_ADDRESS


def count_bad_link(request: HttpRequest) -> None:
    """One more made-up link from this address."""
    count_up(_key(request))


def _key(request: HttpRequest) -> str:
    return f"desk:bad-links:{client_address(request)[:60]}".replace(" ", "_")
