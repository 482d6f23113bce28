"""Where to go after a page that was opened from another one."""

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def next_address(request: HttpRequest, otherwise: str) -> str:
    """The address `next` points to when that is a page of this site, else `otherwise`."""
    wanted = request.POST.get("next") or request.GET.get("next", "")
    safe = wanted.startswith("/") and url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if safe else otherwise
