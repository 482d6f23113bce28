"""Where plants stand and what they get: gardens, spaces, lamps, water, feed, plantings."""

from typing import Any

from django.db import models
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.choices import SpaceKind, WaterKind
from garden.models.growers import Grower
from garden.reference.loader import name_of_crop


def _at_least_zero(name: str, *fields: str) -> list[models.CheckConstraint]:
    return [
        models.CheckConstraint(
            condition=models.Q(**{f"{field}__isnull": True}) | models.Q(**{f"{field}__gte": 0}),
            name=f"{name}_{field}_ge0",
        )
        for field in fields
    ]


def _amount(label: Any) -> "models.FloatField[float | None, float | None]":
    return models.FloatField(label, null=True, blank=True)


class Garden(models.Model):
    grower = models.ForeignKey(Grower, on_delete=models.CASCADE, related_name="gardens")
    name = models.CharField(_("name of the garden"), max_length=120, default="", blank=True)
    notes = models.TextField(_("notes"), blank=True, max_length=4000)
    created_at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("garden")
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name or str(_("Garden of %(grower)s") % {"grower": self.grower})


class Space(models.Model):
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="spaces")
    kind = models.CharField(_("kind of space"), max_length=16, choices=SpaceKind.choices)
    length_m = _amount(_("length"))
    width_m = _amount(_("width"))
    height_m = _amount(_("height"))
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("space")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=SpaceKind.values), name="space_kind_known"),
            *_at_least_zero("space", "length_m", "width_m", "height_m"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Lamp(models.Model):
    space = models.ForeignKey(Space, on_delete=models.CASCADE, related_name="lamps")
    type = models.CharField(_("type of lamp"), max_length=32)
    count = models.PositiveSmallIntegerField(_("how many"), default=1)
    photon_flux_umol_s = _amount(_("photon output of one lamp"))
    watts = _amount(_("power of one lamp"))
    efficacy_umol_j = _amount(_("efficacy"))
    height_m = _amount(_("height above the leaves"))
    hours = _amount(_("hours a day"))
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("lamp")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(count__gte=1), name="lamp_count_ge1"),
            models.CheckConstraint(
                condition=models.Q(hours__isnull=True) | models.Q(hours__gte=0, hours__lte=24),
                name="lamp_hours_in_day",
            ),
            *_at_least_zero("lamp", "photon_flux_umol_s", "watts", "efficacy_umol_j", "height_m"),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.type}"


class WaterSource(models.Model):
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="waters")
    source = models.CharField(_("where the water comes from"), max_length=20, choices=WaterKind.choices)
    alkalinity_mg_l = _amount(_("alkalinity as CaCO3"))
    ec_ms_cm = _amount(_("EC"))
    ph = _amount(_("pH"))
    sodium_mg_l = _amount(_("sodium"))
    chloride_mg_l = _amount(_("chloride"))
    analysed_on = models.DateField(_("date of the analysis"), null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("water")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(source__in=WaterKind.values), name="water_source_known"
            ),
            models.CheckConstraint(
                condition=models.Q(ph__isnull=True) | models.Q(ph__gte=0, ph__lte=14),
                name="water_ph_in_scale",
            ),
            *_at_least_zero("water", "alkalinity_mg_l", "ec_ms_cm", "sodium_mg_l", "chloride_mg_l"),
        ]

    def __str__(self) -> str:
        return self.get_source_display()


class Feed(models.Model):
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="feeds")
    product = models.CharField(_("what is added"), max_length=120)
    ml_per_l = _amount(_("millilitres per litre"))
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("feed")
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(product=""), name="feed_has_product"),
            *_at_least_zero("feed", "ml_per_l"),
        ]

    def __str__(self) -> str:
        return self.product


class Planting(models.Model):
    space = models.ForeignKey(Space, on_delete=models.CASCADE, related_name="plantings")
    crop = models.CharField(_("crop"), max_length=60)
    profile = models.CharField(_("nearest profile"), max_length=40, blank=True)
    stage = models.CharField(_("stage"), max_length=20, blank=True)
    bbch_principal = models.PositiveSmallIntegerField(_("BBCH principal stage"), null=True, blank=True)
    system = models.CharField(_("growing system"), max_length=30, blank=True)
    medium = models.CharField(_("medium"), max_length=30, blank=True)
    container_l = _amount(_("size of the container"))
    plants = models.PositiveIntegerField(_("number of plants"), null=True, blank=True)
    reservoir_l = _amount(_("size of the reservoir"))
    watering_interval_days = _amount(_("days between waterings"))
    watering_volume_l = _amount(_("water each time, each plant"))
    started_on = models.DateField(_("started on"), null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("planting")
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(crop=""), name="planting_has_crop"),
            models.CheckConstraint(
                condition=models.Q(bbch_principal__isnull=True) | models.Q(bbch_principal__lte=9),
                name="planting_bbch_0_to_9",
            ),
            *_at_least_zero(
                "planting", "container_l", "reservoir_l", "watering_interval_days", "watering_volume_l"
            ),
        ]

    def __str__(self) -> str:
        return self.crop

    @property
    def crop_name(self) -> str:
        """The crop in the reader's language; what was typed when it has no profile of its own."""
        return name_of_crop(self.crop, get_language() or "en")
