"""The shop's own crop profiles: read by everyone, changed by the manager."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from garden.access import Right, right_required, staff_of
from garden.agronomy.units import System
from garden.models import CropProfile
from garden.people.defaults import units_for_new_grower
from garden.profiles import selectors, services
from garden.profiles.forms import BaseForm, ProfileForm, StageForm
from garden.profiles.limits import stage_name
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


@_form_view
@right_required(Right.EDIT_PROFILES)
def profile_stage(request: HttpRequest, pk: int, stage: str) -> HttpResponse:
    """The limits of a profile in one stage of growth only."""
    reference = load_reference()
    if stage not in reference.stages:
        raise Http404
    row = get_object_or_404(CropProfile, pk=pk)
    base = selectors.base_of(row, reference.crops)
    form = StageForm(_sent(request), base=base, system=_system(), profile=row, stage=stage)
    if form.is_bound and form.is_valid():
        try:
            services.profile_stage_save(
                profile=row, stage=stage, bands=form.own_bands(), by=staff_of(request)
            )
        except services.ProfileRefused as refused:
            form.add_error(None, str(refused))
        else:
            words = {"name": row, "stage": stage_name(stage)}
            messages.success(request, _("%(name)s is saved for %(stage)s.") % words)
            return redirect("profile-stage", pk, stage)
    return _form_page(request, form, base, row, stage)


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
    form = ProfileForm(_sent(request), base=base, system=_system(), profile=row)
    if form.is_bound and form.is_valid():
        try:
            saved = services.profile_save(
                **form.values(), based_on=base.code, profile=row, by=staff_of(request)
            )
        except services.ProfileRefused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            messages.success(request, _("%(name)s is saved.") % {"name": saved})
            return redirect("profile-edit", saved.pk)
    return _form_page(request, form, base, row, "")


def _form_page(
    request: HttpRequest, form: ProfileForm | StageForm, base: Crop, row: CropProfile | None, stage: str
) -> HttpResponse:
    context = {
        "form": form,
        "base": text(base.name, get_language() or "en"),
        "profile": row,
        "stage": stage_name(stage) if stage else "",
        "tabs": selectors.stage_tabs(row, stage) if row else [],
    }
    return render(request, "profiles/profile_form.html", context, status=422 if form.is_bound else 200)


def _sent(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _system() -> System:
    return Wording(units_for_new_grower()).system
