"""Plans: a draft is edited, an issued one never changes; what comes after is the next version."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from consults.choices import PlanStatus, Progress, When
from consults.models.cases import Case, Ranking


class Plan(models.Model):
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="plans")
    version = models.PositiveIntegerField(_("version"))
    status = models.CharField(max_length=8, choices=PlanStatus.choices, default=PlanStatus.DRAFT)
    causes = models.JSONField(default=list)
    ranking = models.ForeignKey(
        Ranking, on_delete=models.PROTECT, null=True, blank=True, related_name="plans"
    )
    greeting = models.TextField(_("opening words"), blank=True, max_length=1200)
    look_again_on = models.DateField(_("we look again on"), null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="issued_plans"
    )
    snapshot = models.JSONField(null=True, blank=True)
    snapshot_sha256 = models.CharField(max_length=64, blank=True)
    history = HistoricalRecords(excluded_fields=["snapshot"])

    class Meta:
        verbose_name = _("plan")
        ordering = ["case", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["case", "version"], name="plan_version_once"),
            models.UniqueConstraint(
                fields=["case"], condition=Q(status="draft"), name="plan_one_draft_per_case"
            ),
            models.CheckConstraint(condition=Q(status__in=PlanStatus.values), name="plan_status_known"),
            models.CheckConstraint(
                condition=Q(status="draft", issued_at__isnull=True)
                | Q(status="issued", issued_at__isnull=False, snapshot__isnull=False)
                & ~Q(snapshot_sha256=""),
                name="plan_issued_is_complete",
            ),
        ]

    def __str__(self) -> str:
        return str(_("Plan %(case)s, version %(version)s") % {"case": self.case_id, "version": self.version})

    @property
    def is_draft(self) -> bool:
        return self.status == PlanStatus.DRAFT


class PlanAction(models.Model):
    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="actions")
    position = models.PositiveIntegerField()
    code = models.CharField(max_length=60, blank=True)
    causes = models.JSONField(default=list)
    included = models.BooleanField(_("in the plan"), default=True)
    when = models.CharField(_("when"), max_length=12, choices=When.choices)
    text = models.TextField(_("what to do"), max_length=600)
    quantity_code = models.CharField(max_length=40, blank=True)
    quantity = models.CharField(_("how much"), max_length=200, blank=True)
    working = models.JSONField(default=dict, blank=True)
    why = models.CharField(_("why"), max_length=400, blank=True)
    worked_when = models.CharField(_("how to know it worked"), max_length=400, blank=True)
    stop_when = models.CharField(_("stop and call us when"), max_length=400, blank=True)
    buys = models.BooleanField(_("needs something bought"), default=False)
    reversible = models.BooleanField(_("can be undone"), default=True)
    waits_for = models.CharField(max_length=60, blank=True)
    shop_words = models.BooleanField(_("in the shop's words"), default=False)
    cautions = models.JSONField(default=list, blank=True)
    opposes = models.JSONField(default=list, blank=True)
    edited = models.BooleanField(default=False)
    history: Any = HistoricalRecords()

    class Meta:
        verbose_name = _("action")
        ordering = ["plan", "position", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(when__in=When.values), name="action_when_known"),
            models.CheckConstraint(condition=~Q(text=""), name="action_has_text"),
            models.UniqueConstraint(
                fields=["plan", "code"], condition=~Q(code=""), name="action_once_per_plan"
            ),
        ]

    def __str__(self) -> str:
        return self.text[:60]


class FollowUp(models.Model):
    plan = models.OneToOneField(Plan, on_delete=models.CASCADE, related_name="follow_up")
    due_on = models.DateField(_("due on"))
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    progress = models.CharField(_("how is it now"), max_length=8, choices=Progress.choices, blank=True)
    note = models.TextField(_("what was done, what changed"), blank=True, max_length=4000)
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("look afterwards")
        ordering = [F("due_on").asc(), "pk"]
        indexes = [models.Index(fields=["done_at", "due_on"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(done_at__isnull=True, progress="")
                | Q(done_at__isnull=False, progress__in=Progress.values),
                name="follow_up_done_says_how",
            ),
        ]

    def __str__(self) -> str:
        return str(_("Look on %(day)s") % {"day": self.due_on})
