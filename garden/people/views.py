"""Growers and their gardens."""

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.http.response import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from garden.access import Right, right_required
from garden.models import Garden, Grower, Staff
from garden.onward import next_address
from garden.people import selectors, services
from garden.people.forms import GrowerForm
from garden.people.garden_screen import GardenScreen
from garden.people.overview import garden_lines

_form_view = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def growers(request: HttpRequest) -> HttpResponse:
    """All growers, or those a search finds; the rows alone when only they are asked for."""
    query, after = request.GET.get("q", "").strip()[:200], request.GET.get("after", "")
    if not query and request.GET.get("only") == "found":
        return HttpResponse()  # the start page's search box was emptied
    page = selectors.growers_page(
        query=query,
        after_name=request.GET.get("name", ""),
        after_pk=int(after) if after.isdecimal() and len(after) < 19 else None,
    )
    template = "people/_growers.html" if request.htmx else "people/growers.html"  # type: ignore[attr-defined]
    context = {"page": page, "query": query, "later": bool(after), **_for_case(request)}
    response = render(request, template, context)
    patch_vary_headers(response, ["HX-Request"])
    return response


@require_safe
def grower(request: HttpRequest, pk: int) -> HttpResponse:
    found = selectors.grower_with_gardens(pk)
    if found is None:
        raise Http404
    return render(request, "people/grower.html", {"grower": found, "gardens": garden_lines(found)})


@_form_view
@right_required(Right.EDIT_GROWERS)
def grower_new(request: HttpRequest) -> HttpResponse:
    return _grower_form(request, GrowerForm(_sent(request), typed=request.GET.get("q", "").strip()[:200]))


@_form_view
@right_required(Right.EDIT_GROWERS)
def grower_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _grower_form(request, GrowerForm(_sent(request), instance=get_object_or_404(Grower, pk=pk)))


def _grower_form(request: HttpRequest, form: GrowerForm) -> HttpResponse:
    pk = form.instance.pk
    if request.method != "POST" or not form.is_valid():
        status = 422 if form.is_bound else 200
        return render(request, "people/grower_form.html", {"form": form, "pk": pk}, status=status)
    saved = services.grower_save(
        data=form.values(),
        **form.wishes(),
        by=cast(Staff, request.user),
        grower=get_object_or_404(Grower, pk=pk) if pk else None,
    )
    messages.success(request, _("%(name)s is saved.") % {"name": saved})
    asked = _for_case(request)
    if asked["for_case"] and not pk:
        question = f"&question={asked['question']}" if asked["question"] else ""
        return redirect(f"{reverse('case-new')}?grower={saved.pk}{question}")
    return redirect("grower", saved.pk)


@_form_view
@right_required(Right.EDIT_GROWERS)
def garden_new(request: HttpRequest, pk: int) -> HttpResponse:
    return _garden_form(request, get_object_or_404(Grower, pk=pk), None)


@_form_view
@right_required(Right.EDIT_GROWERS)
def garden_edit(request: HttpRequest, pk: int) -> HttpResponse:
    garden = get_object_or_404(Garden.objects.select_related("grower"), pk=pk)
    return _garden_form(request, garden.grower, garden)


def _garden_form(request: HttpRequest, owner: Grower, garden: Garden | None) -> HttpResponse:
    """One screen for the whole garden; afterwards on to where it was opened from."""
    sent = _sent(request)
    screen = GardenScreen(system=owner.units, garden=garden, sent=sent)
    onward = next_address(request, reverse("grower", args=[owner.pk]))
    if sent is None or not screen.is_valid():
        context = {"screen": screen, "grower": owner, "garden": garden, "onward": onward}
        return render(request, "people/garden_form.html", context, status=200 if sent is None else 422)
    services.garden_save(grower=owner, data=screen.data(), garden=garden, by=cast(Staff, request.user))
    messages.success(request, _("The garden is saved."))
    for question in screen.questions():
        messages.warning(request, question)
    return HttpResponseRedirect(onward)


def _sent(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _for_case(request: HttpRequest) -> dict[str, Any]:
    """Whether a grower is looked for to open a case, and the question it comes from."""
    question = request.GET.get("question", "")
    return {"for_case": "for_case" in request.GET, "question": question if question.isdecimal() else ""}
