"""Small vocabularies of this floor. Those with facts behind them live in `garden/reference`."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Units(models.TextChoices):
    METRIC = "metric", _("metric (°C, litres)")
    US = "us", _("US (°F, gallons)")


class SpaceKind(models.TextChoices):
    TENT = "tent", _("grow tent")
    ROOM = "room", _("room")
    SHELF = "shelf", _("shelf or rack")
    GREENHOUSE = "greenhouse", _("greenhouse")
    WINDOW = "window", _("window sill")
    OUTDOORS = "outdoors", _("balcony or outdoors")


class WaterKind(models.TextChoices):
    TAP = "tap", _("tap water")
    SOFTENED = "softened", _("softened tap water")
    REVERSE_OSMOSIS = "reverse-osmosis", _("reverse-osmosis water")
    RAIN = "rain", _("rain water")
    WELL = "well", _("well water")
    BOTTLED = "bottled", _("bottled water")


class ConsentHow(models.TextChoices):
    """How somebody said that they may be written to."""

    IN_PERSON = "in-person", _("said so at the counter")
    BY_PHONE = "by-phone", _("said so on the phone")
    IN_WRITING = "in-writing", _("in writing")


class StoppedHow(models.TextChoices):
    """How somebody said that they want no reminders."""

    BY_LINK = "by-link", _("by the link in an email")
    TOLD_US = "told-us", _("told us")
