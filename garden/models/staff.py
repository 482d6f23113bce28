"""The shop's people. A role is a column; what it allows is the table in `garden.access`."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.access import Role


class Staff(AbstractUser):
    role = models.CharField(_("role"), max_length=16, choices=Role.choices, default=Role.COUNTER)
    is_demo = models.BooleanField(_("demo account"), default=False, editable=False)
    history = HistoricalRecords(excluded_fields=["password", "last_login"])

    class Meta:
        verbose_name = _("member of staff")
        verbose_name_plural = _("staff")
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="staff_role_known"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username
