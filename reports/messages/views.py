"""What went out, what waits, what was given up."""

from django.contrib import messages as notices
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from consults.models import Plan
from garden.access import Right, right_required
from reports.messages.errors import MessageRefusedError
from reports.messages.selectors import AGAIN, message_of_plan, message_page
from reports.messages.services import message_retry
from reports.models import Message


@require_safe
def message_list(request: HttpRequest) -> HttpResponse:
    failed_only = request.GET.get("state") == "dead"
    before = request.GET.get("before", "")
    if before and not (before.isascii() and before.isdigit() and len(before) < 19):
        raise Http404
    page = message_page(failed_only=failed_only, before=int(before) if before else None)
    return render(
        request,
        "messages/list.html",
        {"page": page, "failed_only": failed_only, "is_first": not before, "again": AGAIN},
    )


@require_POST
@right_required(Right.ISSUE_PLANS)
def message_again(request: HttpRequest, message_id: int) -> HttpResponse:
    message = get_object_or_404(Message.objects.select_related("plan__case__grower"), pk=message_id)
    try:
        message_retry(message=message, by=request.user)
    except MessageRefusedError as error:
        notices.error(request, str(error))
    else:
        notices.success(request, _("The message is in the queue again."))
    return redirect("messages")


@require_safe
@never_cache
def plan_sending(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The state of the plan's mail, a piece of a page; asks again by itself while the mail waits."""
    plan = get_object_or_404(Plan, pk=plan_id)
    return render(request, "messages/sending.html", {"plan": plan, "mail": message_of_plan(plan.pk)})
