"""The only door to the photos: for those who are signed in, always as JPEG, never by file name."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from garden.access import Right, right_required
from garden.models import Photo
from garden.onward import next_address
from garden.photos import services


@require_safe
def photo(request: HttpRequest, pk: int) -> FileResponse:
    return _picture(get_object_or_404(Photo, pk=pk), thumb=False)


@require_safe
def photo_thumb(request: HttpRequest, pk: int) -> FileResponse:
    return _picture(get_object_or_404(Photo, pk=pk), thumb=True)


@require_POST
@right_required(Right.EDIT_CASES)
def photo_delete(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Photo.objects.select_related("planting__space__garden"), pk=pk)
    services.photo_delete(photo=found)
    messages.success(request, _("The photo is removed."))
    owner = reverse("grower", args=[found.planting.space.garden.grower_id])
    return HttpResponseRedirect(next_address(request, owner))


def _picture(found: Photo, *, thumb: bool) -> FileResponse:
    try:
        file = (found.thumbnail if thumb else found.image).open("rb")
    except FileNotFoundError:
        raise Http404 from None
    response = FileResponse(file, content_type="image/jpeg")
    name = f"thumb-{found.pk}.jpg" if thumb else f"photo-{found.pk}.jpg"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "private, max-age=3600"
    response["X-Content-Type-Options"] = "nosniff"
    return response
