"""The question log."""

from datetime import datetime
from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.dateparse import parse_datetime
from django.utils.http import urlencode
from django.utils.timezone import is_aware
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consults.models import Question
from consults.questions import selectors, services
from consults.questions.forms import QuestionForm
from garden.access import Right, right_required
from garden.models import Grower, Staff


@require_safe
def questions(request: HttpRequest) -> HttpResponse:
    """The log, newest first; the rows alone when only they are asked for."""
    query, state, pk = (request.GET.get(name, "").strip()[:200] for name in ("q", "state", "pk"))
    page = selectors.questions_page(
        query=query,
        state=state,
        before=_moment(request.GET.get("before", "")),
        before_pk=int(pk) if pk.isdecimal() and len(pk) < 19 else None,
    )
    context = {"page": page, "query": query, "state": state if state in selectors.STATES else "all"}
    template = "questions/_questions.html" if request.htmx else "questions/questions.html"  # type: ignore[attr-defined]
    response = render(request, template, {**context, "later": bool(pk)})
    patch_vary_headers(response, ["HX-Request"])
    return response


@require_http_methods(["GET", "HEAD", "POST"])
@right_required(Right.LOG_QUESTIONS)
def question_new(request: HttpRequest) -> HttpResponse:
    pk = (request.POST if request.method == "POST" else request.GET).get("grower", "")
    grower = Grower.objects.filter(pk=pk).first() if pk.isdecimal() and len(pk) < 19 else None
    form = QuestionForm(request.POST if request.method == "POST" else None, initial={"grower": grower})
    return _form_page(request, form, grower, None)


@require_http_methods(["GET", "HEAD", "POST"])
@right_required(Right.LOG_QUESTIONS)
def question(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Question.objects.select_related("grower", "case", "logged_by"), pk=pk)
    form = QuestionForm(request.POST if request.method == "POST" else None, instance=found)
    return _form_page(request, form, found.grower, found)


@require_POST
@right_required(Right.LOG_QUESTIONS)
def question_to_case(request: HttpRequest, pk: int) -> HttpResponse:
    """On to the new case with all that is known; to the case itself when there is one already."""
    found = get_object_or_404(Question.objects.select_related("case"), pk=pk)
    if hasattr(found, "case"):
        return redirect("case", found.case.pk)
    known = {"question": found.pk} | ({"grower": found.grower_id} if found.grower_id else {})
    return redirect(f"{reverse('case-new')}?{urlencode(known)}")


def _form_page(
    request: HttpRequest, form: QuestionForm, grower: Grower | None, found: Question | None
) -> HttpResponse:
    if not form.is_bound or not form.is_valid():
        context = {"form": form, "grower": grower, "question": found}
        return render(request, "questions/question.html", context, status=422 if form.is_bound else 200)
    saved = services.question_save(
        words=form.cleaned_data["words"],
        answer=form.cleaned_data["answer"],
        grower=form.cleaned_data["grower"],
        by=cast(Staff, request.user),
        question=get_object_or_404(Question, pk=found.pk) if found else None,
    )
    messages.success(
        request, _("The question is saved.") if saved.answer else _("The question is kept open.")
    )
    return redirect("question", saved.pk)


def _moment(written: str) -> datetime | None:
    try:
        moment = parse_datetime(written)
    except ValueError:
        return None
    return moment if moment and is_aware(moment) else None
