"""Writes about check-ins: what the grower sends, and their link."""

from collections.abc import Sequence
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.looks.forms import Measured
from consults.models import CheckIn, FollowUp
from consults.models.looks import new_key
from consults.signals import check_in_received
from garden.access import Right, check_right
from garden.models import Photo, Reading, Staff
from garden.photos.services import photo_add
from garden.reference.loader import load_reference

PHOTOS_AT_MOST = 18  # for one look; judgement


class LookClosedError(DeskError):
    """The look is done, was moved to another day, or a newer plan took its place."""


def check_in_for(look: FollowUp) -> CheckIn:
    """The check-in of a look as it is agreed now; made when nobody has asked for it yet."""
    return CheckIn.objects.get_or_create(plan_id=look.plan_id, due_on=look.due_on)[0]


def lock_open_look(check_in: CheckIn) -> FollowUp:
    """Take the row of the look this check-in is about. Raises LookClosedError when it is open no more."""
    rows = FollowUp.objects.select_for_update()
    look = rows.filter(plan=check_in.plan_id, due_on=check_in.due_on, done_at__isnull=True).first()
    if look is None:
        raise LookClosedError(_("This look is closed, so nothing can be added to it any more."))
    return look


@transaction.atomic
def check_in_send(
    *,
    check_in: CheckIn,
    actions_done: dict[str, str],
    changes: dict[str, str],
    progress: str,
    words: str,
    readings: Sequence[Measured],
    by: Staff | None,
) -> CheckIn:
    """Keep what was told of a look; sent again, it takes the place of what was sent before.

    `by` None: the grower. Raises LookClosedError when staff have closed the look meanwhile.
    """
    lock_open_look(check_in)
    row = CheckIn.objects.select_for_update().get(pk=check_in.pk)
    new = {"actions_done": actions_done, "changes": changes, "progress": progress, "words": words}
    first = row.sent_at is None
    changed = any(getattr(row, name) != value for name, value in new.items())
    changed |= _keep_readings(row, readings, by)
    if not first and not changed:
        return row
    for name, value in new.items():
        setattr(row, name, value)
    now = timezone.now()
    row.sent_at, row.changed_at, row.filled_by = row.sent_at or now, now, by
    row.save()
    check_in_received.send(sender=CheckIn, check_in=row, first=first)
    return row


def _keep_readings(row: CheckIn, readings: Sequence[Measured], by: Staff | None) -> bool:
    """Make these the readings of the check-in; says whether anything changed."""
    known = {reading.quantity: reading for reading in row.readings.all()}
    definitions, changed = load_reference().readings, False
    for measured in readings:
        kept = known.pop(measured.code, None)
        if kept and (kept.value, kept.typed, kept.unit) == (measured.value, measured.typed, measured.unit):
            continue
        usual = definitions[measured.code]
        reading = kept or Reading(planting=row.plan.case.planting, quantity=measured.code, entered_by=by)
        reading.value, reading.typed, reading.unit = measured.value, measured.typed, measured.unit
        reading.unusual = not usual.usual_min <= measured.value <= usual.usual_max
        reading.save()
        row.readings.add(reading)
        changed = True
    for emptied in known.values():
        row.readings.remove(emptied)
        if not emptied.cases.exists():
            emptied.delete()
        changed = True
    return changed


def check_in_photo(*, check_in: CheckIn, upload: "UploadedFile[Any]", by: Staff | None) -> Photo:
    """Keep a photo sent with a check-in.

    Raises PhotoRefused when it is no photo we take, DeskError when there are too many or the look is closed.
    """
    if not FollowUp.objects.filter(
        plan=check_in.plan_id, due_on=check_in.due_on, done_at__isnull=True
    ).exists():
        raise LookClosedError(_("This look is closed, so nothing can be added to it any more."))
    if check_in.photos.count() >= PHOTOS_AT_MOST:
        raise DeskError(
            _("There are %(most)s photos already. Bring the others along.") % {"most": PHOTOS_AT_MOST}
        )
    photo = photo_add(planting=check_in.plan.case.planting, upload=upload, by=by)
    check_in.photos.add(photo)
    return photo


def link_renew(*, check_in: CheckIn, by: Staff) -> CheckIn:
    """Make another link for this look; the one sent before leads nowhere from now on."""
    check_right(by, Right.EDIT_CASES)
    check_in.key, check_in.link_revoked_at = new_key(), None
    check_in.save(update_fields=["key", "link_revoked_at"])
    return check_in


def link_revoke(*, check_in: CheckIn, by: Staff) -> CheckIn:
    """Take the link back; the look itself stays."""
    check_right(by, Right.EDIT_CASES)
    check_in.key, check_in.link_revoked_at = new_key(), timezone.now()
    check_in.save(update_fields=["key", "link_revoked_at"])
    return check_in
