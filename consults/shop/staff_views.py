"""The shop's settings and its people: for the manager. One's own password: for everyone."""

from typing import cast

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.views import PasswordChangeView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse_lazy
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consults.shop import selectors, services
from consults.shop.forms import OwnPasswordForm, ShopForm, StaffForm
from garden.access import Right, right_required
from garden.models import Staff

_form_view = require_http_methods(["GET", "HEAD", "POST"])


@_form_view
@right_required(Right.EDIT_SETTINGS)
def shop_settings(request: HttpRequest) -> HttpResponse:
    form = ShopForm(request.POST if request.method == "POST" else None, instance=selectors.shop_get())
    if not form.is_bound or not form.is_valid():
        return render(request, "shop/settings.html", {"form": form}, status=422 if form.is_bound else 200)
    services.shop_save(data=form.values(), by=cast(Staff, request.user))
    messages.success(request, _("The shop's settings are saved."))
    return redirect("shop-settings")


@require_safe
@right_required(Right.EDIT_STAFF)
def staff(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/staff.html", {"people": selectors.staff_all()})


@_form_view
@right_required(Right.EDIT_STAFF)
def staff_new(request: HttpRequest) -> HttpResponse:
    return _staff_form(request, StaffForm(request.POST if request.method == "POST" else None), None)


@_form_view
@right_required(Right.EDIT_STAFF)
def staff_edit(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Staff, pk=pk)
    form = StaffForm(request.POST if request.method == "POST" else None, instance=person)
    return _staff_form(request, form, pk)


def _staff_form(request: HttpRequest, form: StaffForm, pk: int | None) -> HttpResponse:
    if form.is_bound and form.is_valid():
        try:
            person = services.staff_save(
                data=form.values(),
                password=form.cleaned_data["temporary_password"],
                by=cast(Staff, request.user),
                person=get_object_or_404(Staff, pk=pk) if pk else None,
            )
        except services.StaffRefused as refused:
            form.refuse(refused.field, str(refused))
        else:
            if person.pk == request.user.pk and form.cleaned_data["temporary_password"]:
                update_session_auth_hash(request, person)
            messages.success(request, _("%(name)s is saved.") % {"name": person})
            return redirect("staff")
    return render(
        request, "shop/staff_form.html", {"form": form, "pk": pk}, status=422 if form.is_bound else 200
    )


class OwnPassword(PasswordChangeView):
    template_name = "shop/own_password.html"
    form_class = OwnPasswordForm
    success_url = reverse_lazy("today")

    def form_valid(self, form: OwnPasswordForm) -> HttpResponse:  # type: ignore[override]
        messages.success(self.request, _("Your password is changed."))
        return super().form_valid(form)
