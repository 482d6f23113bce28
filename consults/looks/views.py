"""The looks as staff see them: the list, before and after, filling in with the grower, recording."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from consults.errors import DeskError
from consults.looks import selectors, services
from consults.looks.answering import check_in_form, take_check_in
from consults.looks.links import check_in_path
from consults.looks.record_forms import RecordForm
from consults.looks.recording import look_record, outcome_correct
from consults.looks.states import row_of, with_answers
from consults.models import FollowUp, Outcome
from consults.rules.selectors import ruleset_current
from garden.access import Right, can, right_required, staff_of


@require_GET
def looks(request: HttpRequest) -> HttpResponse:
    context = {"open": selectors.looks_open(), "done": selectors.looks_done()}
    return render(request, "looks/looks.html", context)


@require_GET
def look(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, selectors.look_get(pk))


def _page(
    request: HttpRequest, found: FollowUp, form: RecordForm | None = None, status: int = 200
) -> HttpResponse:
    check_in = selectors.check_in_of_look(found)
    row = None
    if not found.done_at:
        row = row_of(with_answers(FollowUp.objects.filter(pk=found.pk)).get(), timezone.localdate())
        form = form or _record_form(request, found)
    context: dict[str, Any] = {
        "look": found,
        "case": found.plan.case,
        "plan": found.plan,
        "check_in": check_in,
        "row": row,
        "compared": selectors.comparison(found, check_in),
        "past": selectors.outcomes_of(found.plan.case_id),
        "form": form,
        "reminders": list(check_in.reminders.all()) if check_in else [],
        "link": _link(request, found),
    }
    return render(request, "looks/look.html", context, status=status)


def _link(request: HttpRequest, found: FollowUp) -> str:
    """The grower's link in full, where there is one to hand out."""
    check_in = selectors.check_in_of_look(found)
    if (
        found.done_at
        or check_in is None
        or check_in.link_revoked_at
        or not can(request.user, Right.EDIT_CASES)
    ):
        return ""
    return request.build_absolute_uri(check_in_path(check_in))


def _record_form(request: HttpRequest, found: FollowUp, data: Any = None) -> RecordForm | None:
    if not can(request.user, Right.EDIT_CASES):
        return None
    confirms = can(request.user, Right.CONFIRM_CAUSES)
    return RecordForm(
        data,
        plan=found.plan,
        ruleset=ruleset_current(),
        confirms=confirms,
        action=reverse("look-record", args=[found.pk]),
    )


@require_POST
@right_required(Right.EDIT_CASES)
def look_record_view(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.look_get(pk)
    form = _record_form(request, found, request.POST)
    assert form is not None  # noqa: S101 - the right was checked
    if not form.is_valid():
        return _page(request, found, form, status=422)
    try:
        look_record(look=found, judged=form.judged(), by=staff_of(request), next_on=form.next_on)
    except DeskError as error:
        messages.error(request, str(error))
        return redirect("follow-up", pk=pk)
    if form.next_on:
        messages.success(request, _("Recorded. The next look is agreed on."))
        return redirect("follow-up", pk=pk)
    messages.success(request, _("Recorded, and the look is closed."))
    return redirect("case", pk=found.plan.case_id)


@right_required(Right.EDIT_CASES)
def look_check_in(request: HttpRequest, pk: int) -> HttpResponse:
    """The grower's own form, filled in by staff with them."""
    found = selectors.look_get(pk)
    if found.done_at:
        messages.info(request, _("This look is closed, so nothing can be added to it any more."))
        return redirect("follow-up", pk=pk)
    check_in = services.check_in_for(found)
    form = check_in_form(check_in, request)
    status = 200
    if request.method == "POST":
        try:
            if take_check_in(check_in, form, by=staff_of(request)):
                messages.success(request, _("Kept. Before and after stand below."))
                return redirect("follow-up", pk=pk)
        except services.LookClosedError as error:
            messages.error(request, str(error))
            return redirect("follow-up", pk=pk)
        status = 422
    context = {"look": found, "case": found.plan.case, "form": form}
    return render(request, "looks/check_in_staff.html", context, status=status)


@require_POST
@right_required(Right.EDIT_CASES)
def look_link(request: HttpRequest, pk: int) -> HttpResponse:
    """Make the grower's link, make another one, or take it back."""
    found = selectors.look_get(pk)
    if found.done_at:
        messages.error(request, _("This look is closed, so it needs no link."))
        return redirect("follow-up", pk=pk)
    check_in = services.check_in_for(found)
    if "revoke" in request.POST:
        services.link_revoke(check_in=check_in, by=staff_of(request))
        messages.success(request, _("The link leads nowhere any more."))
    else:
        services.link_renew(check_in=check_in, by=staff_of(request))
        messages.success(request, _("There is a new link. One sent before leads nowhere any more."))
    return redirect("follow-up", pk=pk)


@right_required(Right.EDIT_CASES)
def outcome_correct_view(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct what was recorded of a look: a newer row takes its place, the older stays."""
    outcome = get_object_or_404(
        Outcome.objects.select_related("plan__case__grower", "plan__case__planting", "check_in"), pk=pk
    )
    confirms = can(request.user, Right.CONFIRM_CAUSES)
    if outcome.confirmed_causes and not confirms:
        messages.error(request, _("A cause was confirmed here. Ask a colleague who may confirm causes."))
        return redirect("case", pk=outcome.case_id)
    data = request.POST if request.method == "POST" else None
    form = RecordForm(data, plan=outcome.plan, ruleset=ruleset_current(), confirms=confirms, corrects=outcome)
    if request.method == "POST" and form.is_valid():
        try:
            outcome_correct(outcome=outcome, judged=form.judged(), by=staff_of(request))
        except DeskError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, _("Corrected. What was recorded before is kept beside it."))
        return redirect("case", pk=outcome.case_id)
    context = {"outcome": outcome, "case": outcome.plan.case, "form": form}
    return render(request, "looks/correct.html", context, status=422 if data else 200)
