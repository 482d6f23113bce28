"""Reads the one row about the shop."""

from consults.models import Shop


def shop_get() -> Shop:
    """The shop's settings; sensible ones, unsaved, before a manager has entered any."""
    return Shop.objects.first() or Shop(pk=1)
