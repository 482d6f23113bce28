"""Writes the shop's settings and its people."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import Shop
from consults.shop.selectors import shop_get
from garden.access import Right, Role, check_right
from garden.models import Staff

_PRICES = {"currency", "consult_fee_minor"}


class StaffRefused(DeskError):  # noqa: N818 - says what happened
    """A change that would leave no manager or lock somebody out; `field` is where to mend it."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


@transaction.atomic
def shop_save(*, data: dict[str, Any], by: Staff) -> Shop:
    """Change the shop's settings. The time zone counts from the next page on.

    Raises PermissionDenied without the right to change prices, when one changes, or settings, when others do.
    """
    shop = shop_get()
    changed = {name for name, value in data.items() if getattr(shop, name) != value}
    if changed & _PRICES:
        check_right(by, Right.EDIT_PRICES)
    if changed - _PRICES or not changed:
        check_right(by, Right.EDIT_SETTINGS)
    for name, value in data.items():
        setattr(shop, name, value)
    shop._history_user = by  # type: ignore[attr-defined]
    shop.save()
    return shop


@transaction.atomic
def staff_save(*, data: dict[str, Any], by: Staff, password: str = "", person: Staff | None = None) -> Staff:
    """Enter or change a member of staff.

    Raises PermissionDenied without the right, StaffRefused when the last active manager would be gone, or
    somebody would lock themselves out.
    """
    check_right(by, Right.EDIT_STAFF)
    # Locked, so that two managers cannot demote each other at the same moment.
    managers = set(
        Staff.objects.select_for_update()
        .filter(role=Role.MANAGER, is_active=True)
        .values_list("pk", flat=True)
    )
    person = person or Staff()
    for name, value in data.items():
        setattr(person, name, value)
    stays = person.is_active and person.role == Role.MANAGER
    if person.pk in managers and not stays:
        _check_may_go(person, managers, by)
    if password:
        person.set_password(password)
    person._history_user = by  # type: ignore[attr-defined]
    person.save()
    return person


def _check_may_go(person: Staff, managers: set[int], by: Staff) -> None:
    field = "role" if person.is_active else "is_active"
    if managers == {person.pk}:
        raise StaffRefused(field, _("This is the last manager. Make somebody else a manager first."))
    if person.pk == by.pk:
        raise StaffRefused(field, _("You cannot take this away from yourself. Ask another manager to do it."))
