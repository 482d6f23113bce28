"""Adds, changes and removes the shop's own crop profiles."""

from collections.abc import Mapping

from django.db import IntegrityError, transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from garden.access import Right, check_right
from garden.models import CropProfile, Planting, Staff
from garden.profiles.limits import OFFERED, Bands
from garden.profiles.selectors import base_of, own_crop, reference_current
from garden.reference.loader import ReferenceDataError, bundled_reference
from garden.reference.schema import Crop

_NAMELESS = "own-profile"


class ProfileRefused(Exception):  # noqa: N818 - says what happened
    """A profile that cannot be kept or removed; `field` is where to mend it ("" for none)."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


@transaction.atomic
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

    `bands` are in stored units and hold only what differs from the crop it is based on, in all stages; what
    it says of single stages stays. Raises PermissionDenied, and ProfileRefused for a name that is taken, an
    unknown base, or bands that are none.
    """
    check_right(by, Right.EDIT_PROFILES)
    crops = reference_current().crops
    name = " ".join(name.split())
    if profile is not None:
        profile = _locked(profile)
    elif based_on in crops:
        profile = CropProfile(code=_free_code(name, crops), based_on=based_on)
    else:
        raise ProfileRefused("based_on", _("We have no such crop. Choose one of the list."))
    _check_name(name, profile, crops)
    profile.name, profile.note, profile.bands = name, note.strip(), bands
    _check_bands(profile, bands, crops)
    _keep(profile, by)
    return profile


@transaction.atomic
def profile_stage_save(*, profile: CropProfile, stage: str, bands: Bands, by: Staff) -> CropProfile:
    """Say what holds in one stage of growth only; {} takes back what was said, so all stages hold again.

    `bands` are in stored units. Raises PermissionDenied, and ProfileRefused for an unknown stage, bands that
    are none, or a profile that is gone.
    """
    check_right(by, Right.EDIT_PROFILES)
    if stage not in bundled_reference().stages:
        raise ProfileRefused("", _("There is no such stage of growth."))
    profile = _locked(profile)
    others = {code: kept for code, kept in profile.stages.items() if code != stage}
    profile.stages = {**others, stage: bands} if bands else others
    _check_bands(profile, bands, reference_current().crops)
    _keep(profile, by)
    return profile


def _locked(profile: CropProfile) -> CropProfile:
    """The profile as it is now, for us alone: two people may be changing two stages of it at once."""
    found = CropProfile.objects.select_for_update().filter(pk=profile.pk).first()
    if found is None:
        raise ProfileRefused("", _("%(name)s was removed in the meantime.") % {"name": profile})
    return found


def _keep(profile: CropProfile, by: Staff) -> None:
    profile._history_user = by  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            profile.save()
    except IntegrityError:  # somebody added the same name at the same moment
        raise ProfileRefused("name", _taken(profile.name)) from None


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


def _check_bands(profile: CropProfile, bands: Bands, crops: Mapping[str, Crop]) -> None:
    """Refuse `bands`, new in this profile, that are none; then the whole as a bundled crop would be."""
    readings = bundled_reference().readings
    for code, edges in bands.items():
        if code not in OFFERED:
            raise ProfileRefused("", _("A profile has no limits for “%(code)s”.") % {"code": code})
        reading = readings[code]
        if not all(reading.min <= value <= reading.max for value in edges.values()):
            sentence = _("The limits for %(reading)s must lie from %(low)g to %(high)g %(unit)s.")
            words = {"low": reading.min, "high": reading.max, "unit": reading.unit}
            raise ProfileRefused("", sentence % {"reading": reading.name["en"], **words})
    try:
        own_crop(profile, {**crops, profile.based_on: base_of(profile, crops)})
    except (ReferenceDataError, TypeError) as error:
        sentence = _("These limits do not stand in order: tolerated, comfortable, comfortable, tolerated.")
        raise ProfileRefused("", sentence) from error
