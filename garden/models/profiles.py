"""Crop profiles of the shop's own: what its growers' varieties like, where a bundled crop differs."""

from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class CropProfile(models.Model):
    """`bands` holds only what differs: {reading code: {wide_low, low, high, wide_high}} in stored units.

    `bands` hold in every stage of growth; `stages` holds what differs in one: {stage code: bands}.
    """

    code = models.SlugField(_("code"), max_length=60, unique=True)
    name = models.CharField(_("name"), max_length=60)
    based_on = models.CharField(_("based on"), max_length=60)
    bands = models.JSONField(_("bands"), default=dict, blank=True)
    stages = models.JSONField(_("bands by stage"), default=dict, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    updated_at = models.DateTimeField(auto_now=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("crop profile")
        verbose_name_plural = _("crop profiles")
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(code="") & ~models.Q(name="") & ~models.Q(based_on=""),
                name="cropprofile_code_name_base",
            ),
            models.CheckConstraint(
                condition=~models.Q(based_on=models.F("code")), name="cropprofile_not_based_on_itself"
            ),
        ]

    def __str__(self) -> str:
        return self.name
