"""The check-in behind a grower's link: no sign-in; a first name, the crop and the plan's lines, no more."""

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from consults.looks.answering import check_in_form, take_check_in
from consults.looks.asking import first_name
from consults.looks.limits import may_send
from consults.looks.links import LinkError, check_in_of
from consults.looks.services import LookClosedError
from consults.models import CheckIn, FollowUp
from consults.shop.link_limits import count_bad_link, is_shut_out

LinkView = Callable[[HttpRequest, CheckIn, str], HttpResponse]
_form_view = require_http_methods(["GET", "HEAD", "POST"])


def _of_link(view: LinkView) -> Callable[[HttpRequest, str], HttpResponse]:
    """Hands the view the look its link speaks of, in the grower's language; else a page that says why not."""

    @wraps(view)
    def checked(request: HttpRequest, token: str) -> HttpResponse:
        response = _answer(request, token)
        response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        return response

    def _answer(request: HttpRequest, token: str) -> HttpResponse:
        if is_shut_out(request):
            return _page(
                request, _("Too many attempts"), _("Wait a quarter of an hour, then try again."), 429
            )
        try:
            check_in = check_in_of(token)
        except LinkError as error:
            if error.made_up:
                count_bad_link(request)
            words = _("This link is not whole, too old, or was replaced by a newer one. Ask the shop.")
            return _page(request, _("This link does not work"), words, 404)
        with translation.override(check_in.plan.case.grower.language):
            return view(request, check_in, token)

    return checked


def _page(request: HttpRequest, title: str, words: str, status: int) -> HttpResponse:
    return render(request, "looks/no_link.html", {"title": title, "words": words}, status=status)


def _closed(request: HttpRequest) -> HttpResponse:
    words = _("This was looked at already. If something troubles your plants now, call the shop.")
    return _page(request, _("This look is closed"), words, 410)


def _is_open(check_in: CheckIn) -> bool:
    looks = FollowUp.objects.filter(plan=check_in.plan_id, due_on=check_in.due_on, done_at__isnull=True)
    return looks.exists()


def _said(check_in: CheckIn, token: str) -> dict[str, object]:
    case = check_in.plan.case
    return {"token": token, "name": first_name(case.grower.name), "crop": case.planting.crop_name}


@login_not_required
@_form_view
@never_cache
@_of_link
def check_in(request: HttpRequest, found: CheckIn, token: str) -> HttpResponse:
    """Ask, and take the answers; sent again until the look is closed, they take the place of the first."""
    if not _is_open(found):
        return _closed(request)
    form = check_in_form(found, request)
    status = 200
    if request.method == "POST":
        if not may_send(found):
            words = _("This was sent very often just now. Wait a quarter of an hour, then try again.")
            return _page(request, _("Too often"), words, 429)
        try:
            if take_check_in(found, form, by=None):
                return redirect("check-in-sent", token)
        except LookClosedError:
            return _closed(request)
        status = 422
    context = {**_said(found, token), "form": form, "again": found.sent_at is not None}
    return render(request, "looks/check_in.html", context, status=status)


@login_not_required
@require_http_methods(["GET", "HEAD"])
@never_cache
@_of_link
def check_in_sent(request: HttpRequest, found: CheckIn, token: str) -> HttpResponse:
    """What happens now, and when to call."""
    if found.sent_at is None:
        return redirect("check-in", token)
    actions = [action for action in found.plan.actions.all() if action.included]
    stops = list(dict.fromkeys(action.stop_when for action in actions if action.stop_when))
    context = {**_said(found, token), "stops": stops, "photos": found.photos.count(), "open": _is_open(found)}
    return render(request, "looks/check_in_sent.html", context)
