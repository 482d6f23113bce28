"""The shop itself: one row, changed by the manager."""

import zoneinfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from consults.choices import Paper
from garden.choices import Units


def known_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(
            _('There is no time zone "%(name)s". Use a name such as Europe/Vienna.') % {"name": name}
        )


class Shop(models.Model):
    name = models.CharField(_("name of the shop"), max_length=120, default="The shop")
    address = models.TextField(_("address"), blank=True, max_length=400)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    email = models.EmailField(_("email"), blank=True)
    opening_hours = models.CharField(_("opening hours"), max_length=120, blank=True)
    time_zone = models.CharField(_("time zone"), max_length=60, default="UTC", validators=[known_time_zone])
    paper = models.CharField(_("paper"), max_length=8, choices=Paper.choices, default=Paper.A4)
    units = models.CharField(
        _("units for new growers"), max_length=8, choices=Units.choices, default=Units.METRIC
    )
    currency = models.CharField(_("currency (three letters)"), max_length=3, default="EUR")
    consult_fee_minor = models.PositiveIntegerField(
        _("price of a consult"), default=0, help_text=_("In the smallest coin: 4500 is 45.00.")
    )
    remind_day_before = models.BooleanField(_("remind growers the day before a look"), default=True)
    remind_on_the_day = models.BooleanField(_("remind growers on the day of a look"), default=True)
    remind_from_hour = models.PositiveSmallIntegerField(
        _("not before this hour"), default=9, validators=[MaxValueValidator(23)]
    )
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("shop")
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="shop_is_one_row"),
            models.CheckConstraint(condition=models.Q(paper__in=Paper.values), name="shop_paper_known"),
        ]

    def __str__(self) -> str:
        return self.name
