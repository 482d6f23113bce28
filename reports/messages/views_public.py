"""The pages behind the links in mails: no sign-in, and nothing told but a masked address."""

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from consults.shop.link_limits import count_bad_link, is_shut_out
from reports.messages.links import LinkError, masked, stop_token_read
from reports.messages.reminders import reminders_stop_by_link, reminders_wanted_again
from reports.models import Message

_form_view = require_http_methods(["GET", "HEAD", "POST"])
# RFC 8058 (the words from memory): the mailbox sends just this, with no cookie and no page before it.
_ONE_CLICK = ("List-Unsubscribe", "One-Click")

LinkView = Callable[[HttpRequest, Message, str], HttpResponse]


def _of_message(view: LinkView) -> Callable[[HttpRequest, str], HttpResponse]:
    """Hands the view the message its link speaks of; a link that will not do gets a page that says so."""

    @wraps(view)
    def checked(request: HttpRequest, token: str) -> HttpResponse:
        if is_shut_out(request):
            return _page(
                request, _("Too many attempts"), _("Wait a quarter of an hour, then try again."), 429
            )
        try:
            message = stop_token_read(token)
        except LinkError:
            count_bad_link(request)
            words = _("This link is not whole, or too old. Use the one in a newer email, or tell the shop.")
            return _page(request, _("This link does not work"), words, 404)
        response = view(request, message, token)
        response["X-Robots-Tag"] = "noindex"
        return response

    return checked


def _page(request: HttpRequest, title: str, words: str, status: int) -> HttpResponse:
    return render(request, "messages/link_refused.html", {"title": title, "message": words}, status=status)


@login_not_required
@_form_view
@never_cache
@_of_message
def reminders_stop(request: HttpRequest, message: Message, token: str) -> HttpResponse:
    """Ask first: programs that look at mail follow links, and must not change anything by it."""
    if request.method == "POST":
        change = reminders_wanted_again if "again" in request.POST else reminders_stop_by_link
        change(message=message)
        return redirect("reminders-stop", token)
    assert message.plan is not None  # noqa: S101 - a link is made for messages about a plan only
    grower = message.plan.case.grower
    context = {
        "token": token,
        "address": masked(message.to),
        "still_ours": grower.agrees_to_email and grower.email.casefold() == message.to.casefold(),
        "stopped": bool(grower.reminders_stopped_at),
    }
    return render(request, "messages/reminders_stop.html", context)


@csrf_exempt
@login_not_required
@_form_view
@never_cache
@_of_message
def reminders_stop_one_click(request: HttpRequest, message: Message, token: str) -> HttpResponse:
    """For the mailbox's own button. Whoever comes here with a browser gets the page that asks."""
    if request.method != "POST":
        return redirect("reminders-stop", token)
    if request.POST.get(_ONE_CLICK[0]) != _ONE_CLICK[1]:
        return HttpResponse("List-Unsubscribe=One-Click is missing.", status=400, content_type="text/plain")
    reminders_stop_by_link(message=message)
    return HttpResponse("No more reminders.", content_type="text/plain")
