"""A check-in as it was sent, by a grower or by staff with them. Photos come first: a browser keeps none."""

from django.http import HttpRequest
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.looks.asking import asked_of
from consults.looks.forms import CheckInForm
from consults.looks.services import LookClosedError, check_in_photo, check_in_send
from consults.models import CheckIn
from garden.models import Staff
from garden.photos.services import PhotoRefused


def check_in_form(check_in: CheckIn, request: HttpRequest) -> CheckInForm:
    """The form of a look, filled with what was sent before, or with what is sent now."""
    data, files = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    return CheckInForm(data, files, asked=asked_of(check_in), photos=check_in.photos.count())


def take_check_in(check_in: CheckIn, form: CheckInForm, by: Staff | None) -> bool:
    """Keep what was sent; False when the form says what is to be corrected. Good photos are kept even then.

    Raises LookClosedError when the look is closed.
    """
    form.full_clean()
    arrived = 0
    for upload in form.cleaned_data.get("photos") or []:
        try:
            check_in_photo(check_in=check_in, upload=upload, by=by)
        except LookClosedError:
            raise
        except (PhotoRefused, DeskError) as error:
            form.add_error("photos", f"{upload.name}: {error}")
        else:
            arrived += 1
    if form.errors:
        if arrived:
            form.add_error("photos", _("The other photos have arrived; do not send them again."))
        return False
    check_in_send(check_in=check_in, by=by, **form.answers())
    return True
