"""From the bench into a case, and from the case into its plan."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from consults.answers import services
from consults.choices import CaseStatus
from consults.errors import DeskError
from consults.models import BenchAnswer, Case
from garden.access import Right, right_required, staff_of


@require_GET
def answer_offer(request: HttpRequest, tool: str) -> HttpResponse:
    """A fragment of the bench page: the cases of these plants an answer can be kept in."""
    planting = request.GET.get("planting", "")
    cases = []
    if planting.isascii() and planting.isdecimal() and len(planting) < 18:
        found = Case.objects.filter(planting_id=int(planting)).exclude(status=CaseStatus.CLOSED)
        cases = list(found.select_related("planting", "grower").order_by("-pk")[:5])
    return render(request, "answers/_offer.html", {"cases": cases, "tool": tool})


@require_POST
@right_required(Right.EDIT_CASES)
def answer_keep_view(request: HttpRequest, pk: int) -> HttpResponse:
    case = get_object_or_404(Case.objects.select_related("grower"), pk=pk)
    sent = {name: str(value).replace("\x00", "") for name, value in request.POST.items()}
    try:
        services.answer_keep(case=case, tool=sent.pop("tool", ""), sent=sent, by=staff_of(request))
    except DeskError as error:
        return render(request, "answers/_kept.html", {"case": case, "error": str(error)}, status=422)
    return render(request, "answers/_kept.html", {"case": case})


@require_POST
@right_required(Right.DRAFT_PLANS)
def answer_into_plan_view(request: HttpRequest, case_pk: int, pk: int) -> HttpResponse:
    answer = get_object_or_404(BenchAnswer.objects.select_related("case"), pk=pk, case_id=case_pk)
    try:
        action = services.answer_into_plan(answer=answer, by=staff_of(request))
    except DeskError as error:
        messages.error(request, str(error))
        return redirect("case", pk=case_pk)
    messages.success(request, _("The answer is in the plan. Put the line into words for the grower."))
    return redirect("plan-edit", pk=action.plan_id)
