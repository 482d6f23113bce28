"""The rules of diagnosis: read by everyone, published by the manager."""

from typing import cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consults.models import RulesetVersion
from consults.rules import selectors, services
from consults.rules.forms import RulesetForm
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import load_bundled
from garden.access import Right, right_required
from garden.models import Staff


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    """What the ranking knows, where it comes from, and which version is in force."""
    return _page(request, RulesetForm())


@require_POST
@right_required(Right.EDIT_RULES)
def rules_publish(request: HttpRequest) -> HttpResponse:
    form = RulesetForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, form, status=422)
    row = services.ruleset_publish(
        ruleset=form.cleaned_data["file"], note=form.cleaned_data["note"], by=cast(Staff, request.user)
    )
    messages.success(request, _("The rules of version %(version)s are in force.") % {"version": row.version})
    return redirect("rules")


@require_safe
def rules_export(request: HttpRequest) -> HttpResponse:
    """The rules in force as one JSON file, or an older version with `?version=`."""
    version = request.GET.get("version", "")
    try:
        ruleset = selectors.ruleset_by_version(version) if version else selectors.ruleset_current()
    except (RulesetVersion.DoesNotExist, RulesetError):
        raise Http404 from None
    response = HttpResponse(ruleset.to_json(), content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="rules-{ruleset.version}.json"'
    return response


def _page(request: HttpRequest, form: RulesetForm, status: int = 200) -> HttpResponse:
    ruleset = selectors.ruleset_current()
    context = {
        "form": form,
        "ruleset": ruleset,
        "bundled": load_bundled().version,
        "versions": selectors.versions_published()[:20],
        **selectors.rules_overview(ruleset),
    }
    return render(request, "rules/rules.html", context, status=status)
