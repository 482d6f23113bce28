"""Adds, changes and removes the shop's own crop profiles."""

from collections.abc import Mapping

from django.db import IntegrityError, transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from pydantic import ValidationError

from garden.access import Right, check_right
from garden.models import CropProfile, Planting, Staff
from garden.profiles.selectors import OFFERED, base_of, own_crop, reference_current
from garden.reference.loader import bundled_reference
from garden.reference.schema import Crop

Bands = dict[str, dict[str, float]]
_NAMELESS = "own-profile"


class ProfileRefused(Exception):  # noqa: N818 - says what happened
    """A profile that cannot be kept or removed; `field` is where to mend it ("" for none)."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


def profile_save(
    *,
    name: str,
    bands: Bands,
    by: Staff,
    note: str = "",
    based_on: str = "",
    profile: CropProfile | None = None,
) -> CropProfile:
    """Add a profile, or change one; its code and what it is based on stay as they were made.

    `bands` are in stored units and hold only what differs from the crop it is based on. Raises
    PermissionDenied, and ProfileRefused for a name that is taken, an unknown base, or bands that are none.
    """
    check_right(by, Right.EDIT_PROFILES)
    crops = reference_current().crops
    name = " ".join(name.split())
    if profile is None:
        if based_on not in crops:
            raise ProfileRefused("based_on", _("We have no such crop. Choose one of the list."))
        profile = CropProfile(code=_free_code(name, crops), based_on=based_on)
    _check_name(name, profile, crops)
    profile.name, profile.note, profile.bands = name, note.strip(), bands
    _check_bands(profile, crops)
    profile._history_user = by  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            profile.save()
    except IntegrityError:  # somebody added the same name at the same moment
        raise ProfileRefused("name", _taken(name)) from None
    return profile


@transaction.atomic
def profile_delete(*, profile: CropProfile, by: Staff) -> None:
    """Remove a profile. Raises PermissionDenied, and ProfileRefused while something stands on it."""
    check_right(by, Right.EDIT_PROFILES)
    planted = Planting.objects.filter(crop=profile.code).count()
    if planted:
        sentence = ngettext(
            "%(name)s stays: %(count)d planting is judged by it. Give that planting another crop first.",
            "%(name)s stays: %(count)d plantings are judged by it. Give those plantings another crop first.",
            planted,
        )
        raise ProfileRefused("", sentence % {"name": profile, "count": planted})
    built = CropProfile.objects.filter(based_on=profile.code).first()
    if built is not None:
        sentence = _("%(name)s stays: the profile %(other)s is based on it. Remove that one first.")
        raise ProfileRefused("", sentence % {"name": profile, "other": built})
    profile._history_user = by  # type: ignore[attr-defined]
    profile.delete()


def _free_code(name: str, crops: Mapping[str, Crop]) -> str:
    """The code a name makes. A name without Latin letters gets a number."""
    code = slugify(name.replace("_", " "))[:60].strip("-")
    if code:
        return code
    number = 1
    while f"{_NAMELESS}-{number}" in crops or Planting.objects.filter(crop=f"{_NAMELESS}-{number}").exists():
        number += 1
    return f"{_NAMELESS}-{number}"


def _check_name(name: str, profile: CropProfile, crops: Mapping[str, Crop]) -> None:
    if not name:
        raise ProfileRefused("name", _("Write the name of the crop or variety."))
    if profile._state.adding and (profile.code in crops or profile.code in bundled_reference().crops):
        raise ProfileRefused("name", _taken(name))
    for code, crop in crops.items():
        names = {known.casefold() for known in (code, *crop.name.values(), crop.latin or code)}
        if code != profile.code and name.casefold() in names:
            raise ProfileRefused("name", _taken(name))


def _taken(name: str) -> str:
    return _(
        "There is a crop or profile called “%(name)s” already. Choose a name that tells the two apart."
    ) % {"name": name}


def _check_bands(profile: CropProfile, crops: Mapping[str, Crop]) -> None:
    readings = bundled_reference().readings
    for code, edges in profile.bands.items():
        if code not in OFFERED:
            raise ProfileRefused("", _("A profile has no limits for “%(code)s”.") % {"code": code})
        reading = readings[code]
        if not all(reading.min <= value <= reading.max for value in edges.values()):
            sentence = _("The limits for %(reading)s must lie from %(low)g to %(high)g %(unit)s.")
            words = {"low": reading.min, "high": reading.max, "unit": reading.unit}
            raise ProfileRefused("", sentence % {"reading": reading.name["en"], **words})
    try:
        own_crop(profile, {**crops, profile.based_on: base_of(profile, crops)})
    except (ValidationError, TypeError) as error:
        sentence = _("These limits do not stand in order: tolerated, comfortable, comfortable, tolerated.")
        raise ProfileRefused("", sentence) from error
