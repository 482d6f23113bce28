"""Dated measurements: the value in stored units, and what was typed."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.models.places import Planting


class Reading(models.Model):
    planting = models.ForeignKey(Planting, on_delete=models.CASCADE, related_name="readings")
    quantity = models.CharField(_("what was measured"), max_length=40)
    value = models.FloatField(_("value"))
    typed = models.CharField(_("as typed"), max_length=40)
    unit = models.CharField(_("unit as typed"), max_length=20, blank=True)
    unusual = models.BooleanField(_("unusual value, kept"), default=False)
    taken_at = models.DateTimeField(_("taken at"), default=timezone.now)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("reading")
        ordering = ["-taken_at", "-pk"]
        indexes = [models.Index(fields=["planting", "quantity", "-taken_at"])]
        constraints = [
            models.CheckConstraint(condition=~models.Q(quantity=""), name="reading_has_quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.value:g}"
