"""The bench in the browser: its index, and one page for each question."""

from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from garden.bench.forms import SearchForm, ToolForm
from garden.bench.pages import Page, found_tools, units_of
from garden.bench.prefill import GardenFacts, garden_facts
from garden.bench.tools import all_tools


@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """All questions by group, or those with the words that were typed."""
    query, facts = request.GET.get("q", "").strip()[:100], _facts(request)
    context = {
        "groups": found_tools(query),
        "query": query,
        "form": SearchForm({"q": query}),
        "facts": facts,
    }
    template = "bench/_tools.html" if _is_live(request) else "bench/bench.html"
    return _varied(render(request, template, context))


@require_safe
def bench_tool(request: HttpRequest, code: str) -> HttpResponse:
    """One question with its answer; the answer alone while somebody types."""
    tool = all_tools().get(code)
    if tool is None:
        raise Http404
    facts = _facts(request)
    units = units_of(request.GET.get("units", ""), facts)
    sent = {name: str(value).replace("\x00", "") for name, value in request.GET.items()}
    form = ToolForm(tool, sent=sent, known=facts.known if facts else {}, system=units)
    page = Page(tool, form, units, facts)
    wanted = request.GET.get("to", "")
    if wanted:
        return HttpResponseRedirect(f"{reverse('bench-tool', args=[code])}?{_in_units(page, wanted)}")
    template = "bench/_answer.html" if _is_live(request) else "bench/tool.html"
    return _varied(render(request, template, {"page": page, "form": form, "live": _is_live(request)}))


def _in_units(page: Page, wanted: str) -> str:
    """The same inputs in other units, as an address holds them."""
    units = units_of(wanted, page.facts)
    kept: dict[str, Any] = {"units": units, **page.form.shown_in(units)}
    if page.facts:
        kept["planting"] = page.facts.planting.pk
    return urlencode(kept)


def _facts(request: HttpRequest) -> GardenFacts | None:
    asked = request.GET.get("planting", "")
    if not asked:
        return None
    found = garden_facts(int(asked)) if asked.isascii() and asked.isdecimal() and len(asked) < 18 else None
    if found is None:
        raise Http404
    return found


def _is_live(request: HttpRequest) -> bool:
    return bool(request.htmx) and not request.htmx.history_restore_request  # type: ignore[attr-defined]


def _varied(response: HttpResponse) -> HttpResponse:
    patch_vary_headers(response, ["HX-Request"])
    return response
