"""The case pages: thin; each part of the sheet saves by itself and answers with the new reckoning."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import retarget

from consults.cases import selectors, services
from consults.cases.deeper import deeper
from consults.cases.forms import ConfirmForm, NewCaseForm, PhotoForm, StoryForm
from consults.cases.rows import casefile_from_rows
from consults.errors import DeskError
from consults.models import Case, Question
from consults.rules.selectors import ruleset_current
from garden.access import Right, right_required, staff_of
from garden.models import Grower
from garden.photos.services import PhotoRefused, photo_add
from garden.reference.loader import load_reference


@require_GET
def cases(request: HttpRequest) -> HttpResponse:
    status = request.GET.get("status", "")
    page = selectors.cases_page(status=status, before=_number(request, "before"))
    return render(request, "cases/cases.html", {"page": page, "status": status})


@right_required(Right.EDIT_CASES)
def case_new(request: HttpRequest) -> HttpResponse:
    """Open a case from a grower or a question; asks only for what is not known yet."""
    asked = _number(request, "question")
    question = Question.objects.filter(pk=asked).first() if asked else None
    grower_id = _number(request, "grower") or (question.grower_id if question else None)
    if grower_id is None:
        return redirect(f"{reverse('growers')}?for_case=1" + (f"&question={question.pk}" if question else ""))
    grower = get_object_or_404(Grower, pk=grower_id)
    here = f"{reverse('case-new')}?grower={grower.pk}" + (f"&question={question.pk}" if question else "")
    if not grower.gardens.filter(spaces__plantings__isnull=False).exists():
        return redirect(f"{reverse('garden-new', args=[grower.pk])}?{urlencode({'next': here})}")
    newest = grower.gardens.filter(spaces__plantings__isnull=False).order_by("-spaces__plantings__pk")
    first = newest.values_list("spaces__plantings__pk", flat=True).first()
    initial = {"story": question.words if question else "", "planting": first}
    form = NewCaseForm(request.POST or None, grower=grower, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            opened = services.case_open(
                grower=grower, by=staff_of(request), question=question, **form.cleaned_data
            )
        except DeskError as error:
            form.add_error(None, str(error))
        else:
            return redirect("case", pk=opened.pk)
    return render(
        request, "cases/case_new.html", {"form": form, "grower": grower, "question": question, "here": here}
    )


@require_GET
def case(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.case_get(pk)
    return render(request, "cases/case.html", _page(request, found))


def _page(request: HttpRequest, found: Case) -> dict[str, Any]:
    reckoning, table = selectors.reckon(found)
    ruleset, language = ruleset_current(), get_language() or "en"
    plans = list(found.plans.all())
    order = [cause.code for cause in (*reckoning.causes, *reckoning.more)]
    return {
        "case": found,
        "grower": found.grower,
        "reckoning": reckoning,
        "facts": selectors.garden_facts(found, table),
        "thread": selectors.thread(found),
        "story_form": StoryForm(instance=found),
        "suggestions": selectors.suggestions(found),
        "checklist": selectors.checklist(found, [look.code for look in reckoning.looks]),
        "practices_form": selectors.practices_form(found),
        "reading_forms": selectors.reading_forms(found, table),
        "photo_form": PhotoForm(),
        "confirm_form": ConfirmForm(ruleset=ruleset, order=order, language=language),
        "plans": plans,
        "draft": next((plan for plan in plans if plan.is_draft), None),
        "confirmed_name": selectors.cause_name(ruleset, found.confirmed_cause, language),
        "chosen": _chosen(request, found),
    }


def _chosen(request: HttpRequest, found: Case) -> list[str]:
    """The causes ticked: as the page has them now, else those of the newest plan."""
    if "causes" in request.POST:
        return [code for code in request.POST.getlist("causes") if code] or ["nothing"]
    return next((list(plan.causes) for plan in found.plans.all()), [])


def _reckoning(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.case_get(pk)
    reckoning, _table = selectors.reckon(found)
    context: dict[str, Any] = {
        "case": found,
        "reckoning": reckoning,
        "chosen": _chosen(request, found),
    }
    return render(request, "cases/_reckoning_answer.html", context)


@require_GET
def case_deeper(request: HttpRequest, pk: int) -> HttpResponse:
    """A fragment: what lies behind the ranking."""
    found = selectors.case_get(pk)
    return render(request, "cases/_deeper.html", {"case": found, "deeper": deeper(found)})


@require_POST
@right_required(Right.EDIT_CASES)
def case_story(request: HttpRequest, pk: int) -> HttpResponse:
    """Save the story. The answer leaves the fields alone: somebody is typing in the next one already."""
    found = get_object_or_404(Case, pk=pk)
    form = StoryForm(request.POST, instance=found)
    if not form.is_valid():
        answer = render(request, "cases/_story.html", {"case": found, "story_form": form}, status=422)
        return retarget(answer, "#story")
    services.case_tell(case=found, **form.cleaned_data)
    if not request.headers.get("HX-Request"):
        return redirect("case", pk=pk)
    context = {"case": found, "suggestions": selectors.suggestions(found)}
    return render(request, "cases/_story_saved.html", context)


@require_POST
@right_required(Right.EDIT_CASES)
def case_suggestion(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    """Take what the grower's words suggest, one way or the other; the checklist follows."""
    state = request.POST.get("state", "")
    try:
        services.finding_record(case=get_object_or_404(Case, pk=pk), code=code, state=state)
    except DeskError as error:
        return HttpResponse(str(error), status=409)
    if not request.headers.get("HX-Request"):
        return redirect("case", pk=pk)
    found = selectors.case_get(pk)
    reckoning, _table = selectors.reckon(found)
    taken = selectors.findings_form(found, ruleset_current(), [code], {code: state})
    taken.swapped_in = True
    left = selectors.suggestions(found)
    context = {
        "case": found,
        "suggestions": left,
        "goes_on": _next_code(code, [each.code for each in left]),
        "taken": taken,
        "reckoning": reckoning,
        "chosen": _chosen(request, found),
    }
    return render(request, "cases/_suggestion_taken.html", context)


def _next_code(code: str, left: list[str]) -> str:
    """Of codes in order the one after `code`, else the last: where hands on a keyboard go on."""
    return next((other for other in left if other > code), left[-1] if left else "")


@require_POST
@right_required(Right.EDIT_CASES)
def case_finding(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    found = get_object_or_404(Case, pk=pk)
    try:
        services.finding_record(case=found, code=code, state=request.POST.get(code, ""))
    except DeskError as error:
        return HttpResponse(str(error), status=409)
    return _reckoning(request, pk)


@require_POST
@right_required(Right.EDIT_CASES)
def case_practices(request: HttpRequest, pk: int) -> HttpResponse:
    services.practices_record(case=get_object_or_404(Case, pk=pk), codes=request.POST.getlist("codes"))
    return _reckoning(request, pk) if request.headers.get("HX-Request") else redirect("case", pk=pk)


@require_POST
@right_required(Right.EDIT_CASES)
def case_reading(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    """Record one reading; answers with its own line and the reckoning beside it."""
    reference = load_reference()
    found = selectors.case_get(pk)
    if code not in reference.readings or reference.readings[code].derived:
        return HttpResponse(_("There is no such reading."), status=404)
    _before, table = selectors.reckon(found)
    row = next(row for row in table if row["code"] == code)
    form = selectors.reading_form(found, row, found.readings.filter(quantity=code).first(), request.POST)
    if not form.is_valid():
        return render(request, "cases/_reading.html", {"form": form, "case": found}, status=422)
    value = form.cleaned_data["value"]
    kept = None
    if value is None:
        services.reading_forget(case=found, quantity=code)
    else:
        typed = request.POST[form.add_prefix("value")].strip()
        kept = services.reading_record(
            case=found,
            quantity=code,
            value=value,
            typed=typed,
            unit=form.unit,
            by=staff_of(request),
        )
    reckoning, table = selectors.reckon(found)
    row = next(row for row in table if row["code"] == code)
    form = selectors.reading_form(found, row, kept)
    context = {"form": form, "case": found, "reckoning": reckoning, "chosen": _chosen(request, found)}
    return render(request, "cases/_reading_saved.html", context)


@require_POST
@right_required(Right.EDIT_CASES)
def case_photos(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.case_get(pk)
    form = PhotoForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            photo = photo_add(
                planting=found.planting, upload=form.cleaned_data["photos"], by=staff_of(request),
                caption=form.cleaned_data["caption"],
            )  # fmt: skip
        except PhotoRefused as error:
            form.add_error("photos", str(error))
        else:
            services.photo_attach(case=found, photo=photo)
            messages.success(request, _("The photo is in the case. Place and device data were removed."))
            return redirect(reverse("case", args=[pk]) + "#photos")
    return render(request, "cases/case.html", {**_page(request, found), "photo_form": form}, status=422)


@require_POST
@right_required(Right.CONFIRM_CAUSES)
def case_confirm_view(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.case_get(pk)
    form = ConfirmForm(request.POST, ruleset=ruleset_current(), order=[], language=get_language() or "en")
    if form.is_valid():
        services.case_confirm(case=found, by=staff_of(request), **form.cleaned_data)
        messages.success(
            request,
            _("Confirmed and closed; the look not done yet is dropped."),
        )
        return redirect("case", pk=pk)
    return render(request, "cases/case.html", {**_page(request, found), "confirm_form": form}, status=422)


@require_POST
@right_required(Right.CONFIRM_CAUSES)
def case_reopen_view(request: HttpRequest, pk: int) -> HttpResponse:
    services.case_reopen(case=get_object_or_404(Case, pk=pk), by=staff_of(request))
    return redirect("case", pk=pk)


@require_GET
def grower_cases(request: HttpRequest, pk: int) -> HttpResponse:
    """The cases of one grower, as a fragment of their page."""
    return render(request, "cases/_grower_cases.html", {"cases": selectors.cases_of(pk)})


@require_GET
def case_file(request: HttpRequest, pk: int) -> JsonResponse:
    """The case as a case file, for the command line or another shop."""
    content = casefile_from_rows(selectors.case_get(pk)).model_dump(mode="json", exclude_none=True)
    response = JsonResponse(content, json_dumps_params={"indent": 2, "ensure_ascii": False})
    response["Content-Disposition"] = f'attachment; filename="case-{pk}.json"'
    return response


def _number(request: HttpRequest, name: str) -> int | None:
    value = request.GET.get(name, "")
    return int(value) if value.isdecimal() and len(value) < 18 else None
