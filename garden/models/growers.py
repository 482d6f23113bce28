"""The people who come in with a question."""

import phonenumbers
from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.choices import ConsentHow, StoppedHow, Units


def phone_digits(typed: str) -> str:
    """The digits of a phone number as typed, so that "+1 (555) 010-77" is found by "55501077"."""
    return phonenumbers.normalize_digits_only(typed)


class Grower(models.Model):
    name = models.CharField(_("name"), max_length=200)
    phone = models.CharField(_("phone"), max_length=40, blank=True)
    phone_digits = models.CharField(max_length=40, blank=True, editable=False, db_index=True)
    email = models.EmailField(_("email"), blank=True)
    email_consent_at = models.DateTimeField(_("agreed to email"), null=True, blank=True)
    email_consent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    email_consent_how = models.CharField(
        _("how they agreed"), max_length=12, choices=ConsentHow.choices, blank=True
    )
    reminders_stopped_at = models.DateTimeField(_("wants no reminders since"), null=True, blank=True)
    reminders_stopped_how = models.CharField(max_length=12, choices=StoppedHow.choices, blank=True)
    email_unreachable_at = models.DateTimeField(_("mail came back"), null=True, blank=True)
    email_unreachable_why = models.CharField(max_length=300, blank=True)
    units = models.CharField(_("units"), max_length=8, choices=Units.choices, default=Units.METRIC)
    language = models.CharField(_("language"), max_length=12, default="en")
    notes = models.TextField(_("notes"), blank=True, max_length=4000)
    created_at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("grower")
        verbose_name_plural = _("growers")
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name"]), models.Index(fields=["email"])]
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="grower_has_name"),
            models.CheckConstraint(condition=models.Q(units__in=Units.values), name="grower_units_known"),
            models.CheckConstraint(
                condition=models.Q(email_consent_at__isnull=True) | ~models.Q(email=""),
                name="grower_consent_needs_email",
            ),
            models.CheckConstraint(
                condition=models.Q(email_consent_how="")
                | models.Q(email_consent_at__isnull=False, email_consent_how__in=ConsentHow.values),
                name="grower_consent_how_known",
            ),
            models.CheckConstraint(
                condition=models.Q(reminders_stopped_at__isnull=True, reminders_stopped_how="")
                | models.Q(reminders_stopped_at__isnull=False, reminders_stopped_how__in=StoppedHow.values),
                name="grower_stop_says_how",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: object, **kwargs: object) -> None:
        self.phone_digits = phone_digits(self.phone)
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    @property
    def agrees_to_email(self) -> bool:
        return bool(self.email and self.email_consent_at)

    @property
    def may_be_emailed(self) -> bool:
        """Agreed, and mail to the address does not come back."""
        return self.agrees_to_email and not self.email_unreachable_at

    @property
    def may_be_reminded(self) -> bool:
        """What nobody asked for just now: reminders and the like."""
        return self.may_be_emailed and not self.reminders_stopped_at
