"""A plan as the grower gets it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from consults.models import Plan
from consults.plans.snapshot import build_snapshot
from garden.access import Right, check_right
from reports.documents.selectors import DocumentLostError, document_name, document_read
from reports.documents.services import document_get_or_render, plan_render
from reports.pdf import PdfUnavailable


@require_safe
def plan_pdf(request: HttpRequest, plan_id: int) -> HttpResponse:
    """An issued plan: the very bytes that were sent. A draft: how it would look now, for who makes plans."""
    plan = get_object_or_404(Plan.objects.select_related("case__grower"), pk=plan_id)
    if plan.is_draft:
        check_right(request.user, Right.DRAFT_PLANS)
    try:
        content = _content(plan)
    except (PdfUnavailable, DocumentLostError) as error:
        page = {"title": _("No PDF just now"), "message": str(error)}
        return render(request, "error.html", page, status=503)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{document_name(plan)}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


def _content(plan: Plan) -> bytes:
    if not plan.is_draft:
        return document_read(document_get_or_render(plan))
    return plan_render(build_snapshot(plan)).pdf
