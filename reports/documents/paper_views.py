"""Papers besides the plan: the mixing card, the sheet for looking again, the summary, the hand-out."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from consults.cases.selectors import case_get
from consults.models import Plan, Question
from consults.plans.snapshot import build_snapshot
from garden.access import Right, check_right, right_required, staff_of
from reports.documents.gathering import handout_data, summary_data
from reports.documents.handout import render_handout
from reports.documents.kinds import CARD, RECHECK, document_kind
from reports.documents.letters import undrawn_places
from reports.documents.selectors import DocumentLostError, document_read, photo_bytes
from reports.documents.services import document_get_or_render
from reports.documents.summary import render_summary
from reports.pdf import PdfUnavailable


@require_safe
def card_pdf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The mixing card of a plan."""
    return _of_plan(request, plan_id, CARD)


@require_safe
def recheck_pdf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The sheet for looking again after a plan."""
    return _of_plan(request, plan_id, RECHECK)


def _of_plan(request: HttpRequest, plan_id: int, kind: str) -> HttpResponse:
    """An issued plan's paper is made once and kept; a draft's shows how it would look, to who makes plans."""
    plan = get_object_or_404(Plan.objects.select_related("case__grower"), pk=plan_id)
    if plan.is_draft:
        check_right(request.user, Right.DRAFT_PLANS)

    def content() -> bytes:
        if plan.is_draft:
            return document_kind(kind).render(build_snapshot(plan)).pdf
        return document_read(document_get_or_render(plan, kind))

    return _answer(request, content, f"{kind}-{plan.case_id}-v{plan.version}.pdf")


@require_safe
def summary_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The case as it stands now, for the shop's file."""
    case = case_get(pk)

    def content() -> bytes:
        data = summary_data(case, by=staff_of(request), on=timezone.localdate())
        pictures = photo_bytes(data)
        data["photos"] = [photo for photo in data["photos"] if photo["id"] in pictures]
        return render_summary(data, pictures.__getitem__).pdf

    return _answer(request, content, f"summary-{pk}.pdf")


@require_safe
def handout_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The answer to a question, for anybody who asks the same."""
    question = get_object_or_404(Question.objects.select_related("grower"), pk=pk)
    return _answer(request, lambda: render_handout(handout_data(question)).pdf, f"hand-out-{pk}.pdf")


def _answer(request: HttpRequest, content: Callable[[], bytes], name: str) -> HttpResponse:
    try:
        response = HttpResponse(content(), content_type="application/pdf")
    except (PdfUnavailable, DocumentLostError) as error:
        page = {"title": _("No PDF just now"), "message": str(error)}
        return render(request, "error.html", page, status=503)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


@require_safe
@never_cache
@right_required(Right.DRAFT_PLANS)
def plan_letters(request: HttpRequest, plan_id: int) -> HttpResponse:
    """What of a plan no font here can draw, a piece of its page; empty when all is well."""
    plan = get_object_or_404(Plan.objects.select_related("case__grower"), pk=plan_id)
    snapshot: dict[str, Any] = build_snapshot(plan) if plan.is_draft else (plan.snapshot or {})
    try:
        places = undrawn_places(snapshot)
    except PdfUnavailable:
        places = []  # said already, on the page of the health and where a PDF is asked for
    return render(request, "documents/letters.html", {"places": places})
