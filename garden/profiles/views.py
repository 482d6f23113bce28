"""The shop's own crop profiles: read by everyone, changed by the manager."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from garden.access import Right, right_required, staff_of
from garden.models import CropProfile
from garden.people.defaults import units_for_new_grower
from garden.profiles import selectors, services
from garden.profiles.forms import BaseForm, ProfileForm
from garden.reference.loader import load_reference, text
from garden.reference.schema import Crop
from garden.wording import Wording

_form_view = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def profiles(request: HttpRequest) -> HttpResponse:
    lines = selectors.profile_lines(units_for_new_grower())
    return render(request, "profiles/profiles.html", {"profiles": lines})


@_form_view
@right_required(Right.EDIT_PROFILES)
def profile_new(request: HttpRequest) -> HttpResponse:
    """First what it is based on, then the form with that crop's limits filled in."""
    base = load_reference().crops.get(request.GET.get("based_on", ""))
    if base is None:
        asked = request.GET if "based_on" in request.GET else request.POST
        form = BaseForm(asked if asked or request.method == "POST" else None)
        return render(
            request, "profiles/profile_start.html", {"form": form}, status=422 if form.is_bound else 200
        )
    return _profile_form(request, base, None)


@_form_view
@right_required(Right.EDIT_PROFILES)
def profile_edit(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(CropProfile, pk=pk)
    return _profile_form(request, selectors.base_of(row, load_reference().crops), row)


@require_POST
@right_required(Right.EDIT_PROFILES)
def profile_delete(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(CropProfile, pk=pk)
    try:
        services.profile_delete(profile=row, by=staff_of(request))
    except services.ProfileRefused as refused:
        messages.error(request, str(refused))
        return redirect("profile-edit", pk)
    messages.success(request, _("%(name)s is removed.") % {"name": row})
    return redirect("profiles")


def _profile_form(request: HttpRequest, base: Crop, row: CropProfile | None) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    form = ProfileForm(sent, base=base, system=Wording(units_for_new_grower()).system, profile=row)
    if form.is_bound and form.is_valid():
        try:
            saved = services.profile_save(
                **form.values(), based_on=base.code, profile=row, by=staff_of(request)
            )
        except services.ProfileRefused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            messages.success(request, _("%(name)s is saved.") % {"name": saved})
            return redirect("profiles")
    context = {"form": form, "base": text(base.name, get_language() or "en"), "profile": row}
    return render(request, "profiles/profile_form.html", context, status=422 if form.is_bound else 200)
