"""A case: what was seen, what was measured, what it probably is, what it turned out to be."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from consults.choices import CaseStatus, Confirmed, Seen
from consults.models.questions import Question
from consults.models.rules import RulesetVersion
from garden.models import Grower, Photo, Planting, Reading


class Case(models.Model):
    grower = models.ForeignKey(Grower, on_delete=models.CASCADE, related_name="cases")
    planting = models.ForeignKey(Planting, on_delete=models.CASCADE, related_name="cases")
    question = models.OneToOneField(
        Question, on_delete=models.SET_NULL, null=True, blank=True, related_name="case"
    )
    story = models.TextField(_("the story, in the grower's own words"), blank=True, max_length=8000)
    onset_days = models.PositiveIntegerField(_("days since it began"), null=True, blank=True)
    notes = models.TextField(_("our notes"), blank=True, max_length=8000)
    status = models.CharField(max_length=10, choices=CaseStatus.choices, default=CaseStatus.OPEN)
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    readings = models.ManyToManyField(Reading, related_name="cases", blank=True)
    import_key = models.CharField(max_length=64, unique=True, null=True, blank=True, editable=False)
    confirmed_cause = models.CharField(_("confirmed cause"), max_length=60, blank=True)
    confirmed_how = models.CharField(
        _("how it was confirmed"), max_length=12, choices=Confirmed.choices, blank=True
    )
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("case")
        ordering = ["-opened_at", "-pk"]
        indexes = [models.Index(fields=["status", "-opened_at", "-id"])]
        constraints = [
            models.CheckConstraint(condition=Q(status__in=CaseStatus.values), name="case_status_known"),
            models.CheckConstraint(
                condition=Q(confirmed_cause="", confirmed_how="")
                | (~Q(confirmed_cause="") & Q(confirmed_how__in=Confirmed.values)),
                name="case_confirmed_says_how",
            ),
        ]

    def __str__(self) -> str:
        return str(_("Case %(number)s") % {"number": self.pk})


class CaseFinding(models.Model):
    """Looked at: present or absent. No row means not looked at."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="findings")
    code = models.CharField(max_length=60)
    state = models.CharField(max_length=8, choices=Seen.choices)
    photo = models.ForeignKey(
        Photo, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings"
    )
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("finding")
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["case", "code"], name="finding_once_per_case"),
            models.CheckConstraint(condition=Q(state__in=Seen.values), name="finding_state_known"),
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.state}"


class CasePractice(models.Model):
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="practices")
    code = models.CharField(max_length=60)

    class Meta:
        verbose_name = _("practice")
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["case", "code"], name="practice_once_per_case")]

    def __str__(self) -> str:
        return self.code


class CasePhoto(models.Model):
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="case_links")

    class Meta:
        verbose_name = _("photo of a case")
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["case", "photo"], name="photo_once_per_case")]

    def __str__(self) -> str:
        return str(self.photo)


class Ranking(models.Model):
    """One reckoning, with all it was made from."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="rankings")
    ruleset = models.ForeignKey(RulesetVersion, on_delete=models.PROTECT, related_name="rankings")
    inputs = models.JSONField()
    result = models.JSONField()
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name = _("ranking")
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.case_id}/{self.pk}"
