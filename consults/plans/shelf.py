"""The shop's shelf: what it holds, and changing it."""

from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from consults.models import ShelfItem
from consults.plans.shopping import Stock
from consults.shop.selectors import shop_get
from garden.access import Right, check_right
from garden.models import Staff


def shelf_all() -> QuerySet[ShelfItem]:
    """All items, those still sold first, by name."""
    return ShelfItem.objects.all()


def shelf_stock(currency: str) -> list[Stock]:
    """What is sold now. A price entered in another currency than the shop's own does not count."""
    return [
        Stock(
            pk=item.pk,
            name=item.name,
            needs=tuple(item.needs),
            unit=item.unit,
            pack_size=float(item.pack_size),
            price_minor=item.price_minor if item.currency == currency else None,
            in_stock=item.in_stock,
            note=item.note,
        )
        for item in ShelfItem.objects.filter(retired=False).order_by("name", "pk")
    ]


@transaction.atomic
def shelf_save(*, data: dict[str, Any], by: Staff, item: ShelfItem | None = None) -> ShelfItem:
    """Enter or change an item; its price is in the shop's currency of this moment.

    Raises PermissionDenied without the right to the shelf, or to prices when the price changes.
    """
    check_right(by, Right.EDIT_SHELF)
    item = item or ShelfItem()
    if item.price_minor != data["price_minor"]:
        check_right(by, Right.EDIT_PRICES)
    for name, value in data.items():
        setattr(item, name, value)
    item.currency = shop_get().currency if item.price_minor is not None else ""
    item._history_user = by  # type: ignore[attr-defined]
    item.save()
    return item


@transaction.atomic
def shelf_retire(*, item: ShelfItem, retired: bool, by: Staff) -> None:
    """Take an item off the shelf, or put it back. Plans issued before keep it. Raises PermissionDenied."""
    check_right(by, Right.EDIT_SHELF)
    item.retired = retired
    item._history_user = by  # type: ignore[attr-defined]
    item.save(update_fields=["retired"])
