"""The shop's shelf: read by everyone, changed by the manager."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consults.models import ShelfItem
from consults.plans.buying import shelf_lines
from consults.plans.shelf import shelf_retire, shelf_save
from consults.plans.shelf_forms import ShelfItemForm
from consults.shop.selectors import shop_get
from garden.access import Right, right_required, staff_of

_form_view = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def shelf(request: HttpRequest) -> HttpResponse:
    lines = shelf_lines(shop_get().currency, get_language() or "en")
    context = {
        "sold": [line for line in lines if not line.item.retired],
        "retired": [line for line in lines if line.item.retired],
    }
    return render(request, "plans/shelf.html", context)


@_form_view
@right_required(Right.EDIT_SHELF)
def shelf_new(request: HttpRequest) -> HttpResponse:
    return _form(request, None)


@_form_view
@right_required(Right.EDIT_SHELF)
def shelf_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _form(request, get_object_or_404(ShelfItem, pk=pk))


@require_POST
@right_required(Right.EDIT_SHELF)
def shelf_retire_view(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an item off the shelf, or put a retired one back."""
    item = get_object_or_404(ShelfItem, pk=pk)
    shelf_retire(item=item, retired=not item.retired, by=staff_of(request))
    said = _("%(name)s is taken off the shelf.") if item.retired else _("%(name)s is back on the shelf.")
    messages.success(request, said % {"name": item})
    return redirect("shelf")


def _form(request: HttpRequest, item: ShelfItem | None) -> HttpResponse:
    form = ShelfItemForm(
        request.POST if request.method == "POST" else None,
        instance=ShelfItem.objects.get(pk=item.pk) if item else None,
        currency=shop_get().currency,
    )
    if form.is_bound and form.is_valid():
        saved = shelf_save(data=form.values(), item=item, by=staff_of(request))
        messages.success(request, _("%(name)s is saved.") % {"name": saved})
        return redirect("shelf")
    context = {"form": form, "item": item}
    return render(request, "plans/shelf_form.html", context, status=422 if form.is_bound else 200)
