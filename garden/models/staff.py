"""The shop's people. A role is a column; what it allows is the table in `garden.access`."""

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.access import Role


class StaffManager(UserManager["Staff"]):
    """`manage.py createsuperuser` makes the first manager."""

    def create_superuser(self, *args: Any, **fields: Any) -> "Staff":
        fields.setdefault("role", Role.MANAGER)
        return super().create_superuser(*args, **fields)


class Staff(AbstractUser):
    role = models.CharField(_("role"), max_length=16, choices=Role.choices, default=Role.COUNTER)
    is_demo = models.BooleanField(_("demo account"), default=False, editable=False)
    history = HistoricalRecords(excluded_fields=["password", "last_login"])

    objects: ClassVar[StaffManager] = StaffManager()

    class Meta:
        verbose_name = _("member of staff")
        verbose_name_plural = _("staff")
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="staff_role_known"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username
