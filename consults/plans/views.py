"""The plan builder and the issued plan."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import reswap, retarget

from consults.cases.selectors import cause_name
from consults.errors import DeskError
from consults.models import Case, Plan, PlanAction
from consults.plans import selectors, services
from consults.plans.forms import ActionForm, IssueForm, PlanWordsForm
from consults.plans.snapshot import build_snapshot
from consults.rules.selectors import ruleset_current
from garden.access import Right, right_required, staff_of


@require_POST
@right_required(Right.DRAFT_PLANS)
def plan_draft_view(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Case.objects.select_related("grower", "planting__space__garden"), pk=pk)
    try:
        plan = services.plan_draft(
            case=found, causes=[code for code in request.POST.getlist("causes") if code], by=staff_of(request)
        )
    except DeskError as error:
        messages.error(request, str(error))
        return redirect("case", pk=pk)
    return redirect("plan-edit", pk=plan.pk)


@require_GET
@right_required(Right.DRAFT_PLANS)
def plan_edit(request: HttpRequest, pk: int) -> HttpResponse:
    plan = selectors.plan_get(pk)
    if not plan.is_draft:
        return redirect("plan", pk=pk)
    words = PlanWordsForm(initial={"greeting": plan.greeting, "look_again_on": plan.look_again_on})
    return render(request, "plans/plan_edit.html", _edit_context(plan, words))


def _edit_context(plan: Plan, words: PlanWordsForm) -> dict[str, object]:
    ruleset, language = ruleset_current(), get_language() or "en"
    return {
        "plan": plan,
        "case": plan.case,
        "causes": [cause_name(ruleset, code, language) for code in plan.causes],
        "groups": selectors.action_groups(plan),
        "left_out": selectors.left_out_forms(plan),
        "stale": services.plan_is_stale(plan),
        "conflicts": selectors.plan_conflicts(plan),
        "words_form": words,
        "new_form": ActionForm(),
        "issue_form": IssueForm(grower=plan.case.grower),
    }


@require_POST
@right_required(Right.DRAFT_PLANS)
def plan_words(request: HttpRequest, pk: int) -> HttpResponse:
    plan = selectors.plan_get(pk)
    form = PlanWordsForm(request.POST)
    if not form.is_valid():
        answer = render(request, "plans/_words.html", {"plan": plan, "words_form": form}, status=422)
        return retarget(answer, "#words")
    try:
        services.plan_tell(plan=plan, **form.cleaned_data)
    except DeskError as error:
        return HttpResponse(str(error), status=409)
    return HttpResponse(_("Saved."))


@require_POST
@right_required(Right.DRAFT_PLANS)
def action_edit_view(request: HttpRequest, plan_pk: int, pk: int) -> HttpResponse:
    """Save one line. The answer leaves the fields alone: somebody is typing in the next one already."""
    action = get_object_or_404(PlanAction.objects.select_related("plan"), pk=pk, plan_id=plan_pk)
    form = selectors.action_form(PlanAction.objects.get(pk=pk), request.POST)
    plan = selectors.plan_get(plan_pk)
    if not form.is_valid():
        answer = render(request, "plans/_action.html", {"form": form, "plan": plan}, status=422)
        return reswap(retarget(answer, f"#action-{pk}"), "outerHTML")
    try:
        services.action_edit(action=action, **form.values())
    except DeskError as error:
        return HttpResponse(str(error), status=409)
    action.refresh_from_db()
    context = {
        "action": action,
        "plan": plan,
        "saved": True,
        "conflicts": selectors.plan_conflicts(selectors.plan_get(plan_pk)),
    }
    return render(request, "plans/_action_saved.html", context)


@require_POST
@right_required(Right.DRAFT_PLANS)
def action_keep_view(request: HttpRequest, plan_pk: int, pk: int) -> HttpResponse:
    """Settle a contradiction: this line stays, what speaks against it goes."""
    try:
        services.action_keep(action=get_object_or_404(PlanAction, pk=pk, plan_id=plan_pk))
    except DeskError as error:
        messages.error(request, str(error))
    return redirect("plan-edit", pk=plan_pk)


@require_POST
@right_required(Right.DRAFT_PLANS)
def action_new(request: HttpRequest, pk: int) -> HttpResponse:
    plan = selectors.plan_get(pk)
    form = ActionForm(request.POST)
    if form.is_valid():
        try:
            services.action_add(plan=plan, **form.cleaned_data)
        except DeskError as error:
            messages.error(request, str(error))
        return redirect("plan-edit", pk=pk)
    words = PlanWordsForm(initial={"greeting": plan.greeting, "look_again_on": plan.look_again_on})
    return render(
        request, "plans/plan_edit.html", {**_edit_context(plan, words), "new_form": form}, status=422
    )


@require_POST
@right_required(Right.ISSUE_PLANS)
def plan_issue_view(request: HttpRequest, pk: int) -> HttpResponse:
    plan = selectors.plan_get(pk)
    form = IssueForm(request.POST, grower=plan.case.grower)
    form.is_valid()
    try:
        services.plan_issue(plan=plan, by=staff_of(request), send_email=form.cleaned_data["send_email"])
    except (DeskError, ValidationError) as error:
        messages.error(request, " ".join(getattr(error, "messages", [str(error)])))
        return redirect("plan-edit", pk=pk)
    messages.success(
        request, _("The plan is issued. It never changes from now on; a change becomes the next version.")
    )
    return redirect("plan", pk=pk)


@require_GET
def plan_view(request: HttpRequest, pk: int) -> HttpResponse:
    plan = selectors.plan_get(pk)
    if plan.is_draft:
        return redirect("plan-edit", pk=pk)
    newest = plan.case.plans.order_by("-version").first()
    context = {"plan": plan, "case": plan.case, "snapshot": plan.snapshot, "newest": newest}
    return render(request, "plans/plan.html", context)


@require_GET
@right_required(Right.DRAFT_PLANS)
def plan_days(request: HttpRequest, pk: int) -> HttpResponse:
    """The calendar of a draft, as it would be handed over today. An issued plan shows its own."""
    plan = selectors.plan_get(pk)
    if not plan.is_draft:
        return redirect("plan", pk=pk)
    context = {"plan": plan, "case": plan.case, "snapshot": build_snapshot(plan)}
    return render(request, "plans/plan_days.html", context)


@require_POST
@right_required(Right.DRAFT_PLANS)
def plan_revise_view(request: HttpRequest, pk: int) -> HttpResponse:
    plan = services.plan_revise(plan=selectors.plan_get(pk), by=staff_of(request))
    return redirect("plan-edit", pk=plan.pk)
