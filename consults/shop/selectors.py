"""Reads the one row about the shop, and its people."""

from django.db.models import QuerySet

from consults.models import Shop
from garden.models import Staff


def shop_get() -> Shop:
    """The shop's settings; sensible ones, unsaved, before a manager has entered any."""
    return Shop.objects.first() or Shop(pk=1)


def units_for_new_grower() -> str:
    """What the garden floor asks before it shows an empty form for a grower."""
    return shop_get().units


def staff_all() -> QuerySet[Staff]:
    """Everybody, those who may sign in first."""
    return Staff.objects.order_by("-is_active", "username")
