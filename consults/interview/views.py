"""The interview: a page with one question, large enough for a wet thumb. Works without scripts."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from consults.cases import services as case_services
from consults.cases.selectors import case_get
from consults.errors import DeskError
from consults.interview import selectors, services
from consults.interview.forms import OnsetForm
from consults.interview.memory import Asked, Memory, recall, remember
from consults.models import Case
from consults.ruleset.conditions import ONSET
from garden.access import Right, right_required, staff_of

_KINDS = ("finding", "practice", "reading")


@right_required(Right.EDIT_CASES)
def interview(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask the next question of a case; take the answer to the last one."""
    found = case_get(pk)
    memory = recall(request.session, pk)
    if request.method == "POST":
        question: Asked = (request.POST.get("kind", ""), request.POST.get("code", ""))
        if question[0] not in _KINDS:
            return redirect("interview", pk=pk)
        try:
            taken = _take(request, found, memory, question)
        except DeskError as error:
            messages.warning(request, str(error))
            return redirect("interview", pk=pk)
        if taken:
            memory.asked.append(question)
            remember(request.session, pk, memory)
            return redirect("interview", pk=pk)
        return _page(request, found, memory, data=request.POST, status=422)
    return _page(request, found, memory)


def _take(request: HttpRequest, case: Case, memory: Memory, question: Asked) -> bool:
    """Record the answer; False when a number was asked for and what came is none."""
    answer = request.POST.get("answer", "")
    code = question[1]
    if answer != "number":
        if not services.fact_answer(case=case, question=question, answer=answer):
            memory.unanswered.append(question)
        return True
    if code == ONSET:
        form = OnsetForm(request.POST)
        if form.is_valid():
            services.onset_answer(case=case, days=form.cleaned_data["days"])
        return form.is_valid()
    asking = selectors.asking(case, memory, request.POST)
    reading = asking.reading
    if reading is None or asking.question is None or asking.question.step.code != code:
        return True  # another window went on meanwhile: the page asks what is asked now
    if not reading.is_valid() or reading.cleaned_data["value"] is None:
        return False
    case_services.reading_record(
        case=case,
        quantity=code,
        value=reading.cleaned_data["value"],
        typed=request.POST[reading.add_prefix("value")].strip(),
        unit=reading.unit,
        by=staff_of(request),
    )
    return True


@require_POST
@right_required(Right.EDIT_CASES)
def interview_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the last answer back and ask it again."""
    memory = services.answer_take_back(case=case_get(pk), memory=recall(request.session, pk))
    remember(request.session, pk, memory)
    return redirect("interview", pk=pk)


def _page(
    request: HttpRequest, case: Case, memory: Memory, *, data: Any = None, status: int = 200
) -> HttpResponse:
    asking = selectors.asking(case, memory, data)
    context = {"case": case, "asking": asking, "onset_form": OnsetForm(data)}
    return render(request, "interview/question.html", context, status=status)
