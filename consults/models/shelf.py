"""What the shop has on its shelf, and its own wording of what the rules say."""

from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class ShelfItem(models.Model):
    """Something the shop sells. Retired instead of deleted, so that its history stays."""

    name = models.CharField(_("name"), max_length=120)
    needs = models.JSONField(_("what it is for"), default=list)
    unit = models.CharField(_("unit"), max_length=12)
    pack_size = models.DecimalField(_("in one pack"), max_digits=9, decimal_places=3)
    price_minor = models.PositiveIntegerField(_("price of a pack"), null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    in_stock = models.BooleanField(_("in stock"), default=True)
    note = models.CharField(_("note"), max_length=200, blank=True)
    retired = models.BooleanField(_("not sold any more"), default=False)
    history: Any = HistoricalRecords()

    class Meta:
        verbose_name = _("shelf item")
        ordering = ["retired", "name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="shelf_item_has_name"),
            models.CheckConstraint(condition=Q(pack_size__gt=0), name="shelf_pack_is_positive"),
            models.CheckConstraint(
                condition=Q(price_minor__isnull=True) | ~Q(currency=""), name="shelf_price_has_currency"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ShopWording(models.Model):
    """The shop's own words for an action as one cause asks for it, or for the cause's sentence in a plan
    (`action` empty). Laid over the rules; the rules stay as they are. `instead_of` is what they said then."""

    cause = models.CharField(max_length=60)
    action = models.CharField(max_length=60, blank=True)
    language = models.CharField(max_length=12)
    text = models.TextField(_("the shop's words"), max_length=600)
    instead_of = models.TextField(max_length=2000)
    changed_at = models.DateTimeField(auto_now=True)
    history: Any = HistoricalRecords()

    class Meta:
        verbose_name = _("words of the shop")
        ordering = ["cause", "action", "language"]
        constraints = [
            models.UniqueConstraint(fields=["cause", "action", "language"], name="shop_wording_once"),
            models.CheckConstraint(condition=~Q(text=""), name="shop_wording_says_something"),
        ]

    def __str__(self) -> str:
        return self.text[:60]
