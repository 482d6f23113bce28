"""How often one address may try made-up links, as with wrong passwords, and one link may be sent with."""

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

from consults.models import CheckIn
from consults.shop.middleware import client_address

SENT_AT_MOST = 20  # for each link within the time below; judgement, a person corrects two or three times


def _seconds() -> int:
    return int(settings.AXES_COOLOFF_TIME * 3600)


def _bad_links(request: HttpRequest) -> str:
    return f"desk:bad-check-ins:{client_address(request)[:60]}".replace(" ", "_")


def _count(key: str) -> int:
    """One more; how many there are now. Counted in each web process."""
    cache.add(key, 0, timeout=_seconds())
    try:
        return int(cache.incr(key))
    except ValueError:  # it ran out just now
        return 1


def is_shut_out(request: HttpRequest) -> bool:
    """Whether too many made-up links came from this address lately."""
    return int(cache.get(_bad_links(request), 0)) >= settings.SIGN_IN_FAILURES_PER_ADDRESS


def count_bad_link(request: HttpRequest) -> None:
    _count(_bad_links(request))


def may_send(check_in: CheckIn) -> bool:
    """Count one sending by this look's link; False when there were too many lately."""
    return _count(f"desk:check-ins-sent:{check_in.pk}") <= SENT_AT_MOST
