"""A plan as the grower gets it."""

from django.contrib import messages as notices
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from consults.errors import DeskError
from consults.models import Plan
from consults.plans.snapshot import build_snapshot
from garden.access import Right, check_right, right_required
from reports.documents.kinds import plan_render
from reports.documents.selectors import (
    DocumentLostError,
    document_name,
    document_of_plan,
    document_read,
    made_in_background,
)
from reports.documents.services import document_get_or_render, document_note, document_retry
from reports.models import Document, DocumentState
from reports.pdf import PdfUnavailable

_LOOK_AGAIN_S = 2


@require_safe
def plan_pdf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """An issued plan: the very bytes that are sent, or a page (202) while they are being made.

    A draft: how it would look now, for who makes plans.
    """
    plan = get_object_or_404(Plan.objects.select_related("case__grower"), pk=plan_id)
    if plan.is_draft:
        check_right(request.user, Right.DRAFT_PLANS)
    try:
        document = None if plan.is_draft else _document(plan)
        if document is not None and document.state != DocumentState.READY:
            return _not_ready(request, plan, document)
        content = document_read(document) if document else plan_render(build_snapshot(plan)).pdf
    except (PdfUnavailable, DocumentLostError) as error:
        return _no_pdf(request, str(error))
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{document_name(plan)}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


def _document(plan: Plan) -> Document:
    """The row; its document made now only where nobody works in the background."""
    document = document_of_plan(plan.pk)
    if document is not None and document.state == DocumentState.READY:
        return document
    return document_note(plan) if made_in_background() else document_get_or_render(plan)


def _not_ready(request: HttpRequest, plan: Plan, document: Document) -> HttpResponse:
    failed = document.state == DocumentState.FAILED
    context = {"plan": plan, "document": document}
    response = render(request, "documents/not_ready.html", context, status=503 if failed else 202)
    response["Cache-Control"] = "private, no-store"
    if not failed:
        response["Retry-After"] = str(_LOOK_AGAIN_S)
    return response


def _no_pdf(request: HttpRequest, why: str) -> HttpResponse:
    return render(request, "error.html", {"title": _("No PDF just now"), "message": why}, status=503)


@require_safe
@never_cache
def plan_document(request: HttpRequest, plan_id: int) -> HttpResponse:
    """How far the plan's document is, a piece of a page; asks again by itself while it is being made."""
    plan = get_object_or_404(Plan, pk=plan_id)
    return render(request, "documents/progress.html", {"plan": plan, "document": document_of_plan(plan.pk)})


@require_POST
@right_required(Right.ISSUE_PLANS)
def plan_document_again(request: HttpRequest, plan_id: int) -> HttpResponse:
    document = get_object_or_404(Document, plan_id=plan_id, kind="plan")
    try:
        document_retry(document=document, by=request.user)
    except DeskError as error:
        notices.info(request, str(error))
    else:
        notices.success(request, _("The document is being made again."))
    return redirect("plan", plan_id)
