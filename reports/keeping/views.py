"""What is held about a grower: handed out, or erased. For managers."""

import tempfile

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from garden.access import Right, right_required, staff_of
from garden.models import Grower
from reports.keeping.erasing import ErasureRefusedError, erased, forecast, grower_erase
from reports.keeping.exporting import export_grower, export_name
from reports.keeping.forms import ErasureForm
from reports.keeping.identity import identity_of

_IN_MEMORY = 4 * 1024 * 1024


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
@right_required(Right.KEEP_RECORDS)
def grower_held(request: HttpRequest, pk: int) -> HttpResponse:
    """Shows what is held, and what erasing would take and leave; a POST with the grower's name erases."""
    grower = get_object_or_404(Grower, pk=pk)
    form = ErasureForm(request.POST if request.method == "POST" else None, grower=grower)
    if form.is_bound and form.is_valid():
        return _erase(request, grower)
    record = erased(pk)
    context = {
        "grower": grower,
        "form": form,
        "forecast": forecast(grower),
        "record": record,
        # Nothing to do while nobody has been entered anew and every file is gone.
        "done": record is not None and not record.files and not identity_of([pk]),
    }
    return render(request, "keeping/held.html", context, status=422 if form.is_bound else 200)


def _erase(request: HttpRequest, grower: Grower) -> HttpResponse:
    try:
        record = grower_erase(grower=grower, by=staff_of(request))
    except ErasureRefusedError as error:
        messages.error(request, str(error))
    else:
        if record.files:
            messages.warning(request, _("Erased, but some files could not be removed yet. Erase once more."))
        else:
            messages.success(request, _("Erased. Nothing here says any more who this was."))
    return redirect("grower-held", grower.pk)


@require_safe
@never_cache
@right_required(Right.KEEP_RECORDS)
def grower_export(request: HttpRequest, pk: int) -> FileResponse:
    grower = get_object_or_404(Grower, pk=pk)
    # A small one stays in memory; a large one lies in a file without a name, gone when the answer is sent.
    out = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - closed by the response
    export_grower(grower=grower, out=out)
    out.seek(0)
    response = FileResponse(
        out, as_attachment=True, filename=export_name(grower), content_type="application/zip"
    )
    response["X-Content-Type-Options"] = "nosniff"
    return response
