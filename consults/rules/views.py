"""The rules of diagnosis: read by everyone, published by the manager."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consults.models import RulesetVersion
from consults.rules import selectors, services
from consults.rules.bundle import write_zip
from consults.rules.drafting import zip_answer
from consults.rules.forms import RulesetForm
from consults.rules.tables import load
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset, load_bundled
from garden.access import Right, right_required, staff_of


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
        ruleset=form.cleaned_data["file"], note=form.cleaned_data["note"], by=staff_of(request)
    )
    messages.success(request, _("The rules of version %(version)s are in force.") % {"version": row.version})
    return redirect("rules")


@require_safe
def rules_export(request: HttpRequest) -> HttpResponse:
    """The rules in force as one JSON file, or an older version with `?version=`."""
    ruleset = _asked(request)
    response = HttpResponse(ruleset.to_json(), content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="rules-{ruleset.version}.json"'
    return response


@require_safe
def rules_export_files(request: HttpRequest) -> HttpResponse:
    """The rules in force as a zip of text files, or an older version with `?version=`."""
    ruleset = _asked(request)
    return zip_answer(write_zip(load(ruleset.to_json())), f"rules-{ruleset.version}")


@require_POST
@right_required(Right.EDIT_RULES)
def rules_back(request: HttpRequest) -> HttpResponse:
    """Put in force again a version that was published before, or the one that came with the program."""
    version = _plain(request.POST.get("version", ""))
    bundled = version == load_bundled().version
    if not bundled:
        get_object_or_404(selectors.versions_published(), version=version)
    try:
        ruleset = selectors.ruleset_by_version(version)
    except RulesetError:
        messages.error(request, _("This program can no longer use these rules. Export and mend them first."))
    else:
        note = _("As they came with the program") if bundled else ""
        services.ruleset_publish(ruleset=ruleset, by=staff_of(request), note=note)
        said = _("The rules of version %(version)s are in force again.") % {"version": version}
        messages.success(request, said)
    return redirect("rules")


def _asked(request: HttpRequest) -> Ruleset:
    version = _plain(request.GET.get("version", ""))
    try:
        return selectors.ruleset_by_version(version) if version else selectors.ruleset_current()
    except (RulesetVersion.DoesNotExist, RulesetError):
        raise Http404 from None


def _plain(version: str) -> str:
    """What was asked for, without what no database takes."""
    return version[:12].replace("\0", "?")


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
