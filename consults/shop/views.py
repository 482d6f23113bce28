"""The start page, health, and errors in plain words."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from consults.shop import panels
from consults.shop.health import health_report


def today(request: HttpRequest) -> HttpResponse:
    """What waits for whom today."""
    return render(request, "shop/today.html", panels.today_panels())


@login_not_required
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """Can the site work? For the front server and for `run.sh`."""
    well, report = health_report()
    return JsonResponse(report, status=200 if well else 503)


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    message = _("This page had been open too long to be sent safely. Go back, reload it, and send it again.")
    return render(
        request, "error.html", {"title": _("Please send that again"), "message": message}, status=403
    )


def page_forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    message = str(exception) if exception and str(exception) else _("Your role does not open this page.")
    return render(request, "error.html", {"title": _("Not for this role"), "message": message}, status=403)


def page_missing(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    message = _("There is nothing at this address. It may have been moved, or the link was cut short.")
    return render(request, "error.html", {"title": _("Nothing here"), "message": message}, status=404)


def page_bad(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    message = _("The browser sent something we could not read. Go back and try again.")
    return render(
        request, "error.html", {"title": _("That did not arrive whole"), "message": message}, status=400
    )


def page_failed(request: HttpRequest) -> HttpResponse:
    """Must work when nothing else does: no database, no context processors."""
    return HttpResponse(_FAILED, status=500)


_FAILED = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Something broke</title>
<meta name="viewport" content="width=device-width, initial-scale=1"></head>
<body><main><h1>Something broke on our side</h1>
<p>What you saved before is safe. Go back and try once more; if it happens again, tell whoever looks after
this desk, with the time.</p><p><a href="/">Back to today</a></p></main></body></html>"""
