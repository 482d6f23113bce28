"""The look afterwards: who was reminded, what the grower told, and what it came to."""

import secrets
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from consults.choices import CameTo, Change, Confirmed, ReminderKind
from consults.models.cases import Case, Ranking
from consults.models.plans import Plan
from consults.models.rules import RulesetVersion
from garden.models import Photo, Reading


def new_key() -> str:
    return secrets.token_urlsafe(16)


class CheckIn(models.Model):
    """One look: of a plan, on a day. What the grower, or staff with them, told of it, once that was sent.

    It stays when its `FollowUp` is moved to a later day or dropped: plan and day say which look it was.
    `key` is part of the grower's link; another key takes the link back.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="check_ins")
    due_on = models.DateField(_("due on"))
    key = models.CharField(max_length=32, default=new_key, editable=False)
    link_revoked_at = models.DateTimeField(null=True, blank=True)
    actions_done: Any = models.JSONField(default=dict, blank=True)  # key of the line: a HowFar
    changes: Any = models.JSONField(default=dict, blank=True)  # code of the finding: a Change
    progress = models.CharField(_("all in all"), max_length=8, choices=Change.choices, blank=True)
    words = models.TextField(_("what changed, in the grower's own words"), blank=True, max_length=4000)
    readings = models.ManyToManyField(Reading, related_name="check_ins", blank=True)
    photos = models.ManyToManyField(Photo, related_name="check_ins", blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    changed_at = models.DateTimeField(null=True, blank=True)
    filled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    history = HistoricalRecords(excluded_fields=["key"])

    class Meta:
        verbose_name = _("check-in")
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "due_on"], name="check_in_once_for_each_look"),
            models.CheckConstraint(
                condition=Q(progress="") | Q(progress__in=Change.values), name="check_in_progress_known"
            ),
        ]

    def __str__(self) -> str:
        return str(_("Check-in for %(day)s") % {"day": self.due_on})


class LookReminder(models.Model):
    """That somebody was reminded of a look. The database lets each kind be noted once for each look."""

    check_in = models.ForeignKey(CheckIn, on_delete=models.CASCADE, related_name="reminders")
    kind = models.CharField(max_length=12, choices=ReminderKind.choices)
    noted_at = models.DateTimeField(default=timezone.now)
    went_out = models.BooleanField(default=False)  # a floor above took it on

    class Meta:
        verbose_name = _("reminder of a look")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["check_in", "kind"], name="look_reminder_once_of_each_kind"),
            models.CheckConstraint(
                condition=Q(kind__in=ReminderKind.values), name="look_reminder_kind_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_in_id}/{self.kind}"


class Outcome(models.Model):
    """What a look came to, as staff judged it. Codes, numbers and references only, no words about anybody.

    Never changed: whoever errs records a newer row that `corrects` it. `actions` holds one entry for each
    line of the plan: {"action": key, "code", "causes", "done": HowFar or "", "effect": Effect or ""}.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="outcomes")
    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="outcomes")
    check_in = models.ForeignKey(CheckIn, on_delete=models.CASCADE, related_name="outcomes")
    ruleset = models.ForeignKey(RulesetVersion, on_delete=models.PROTECT, null=True, related_name="+")
    ranking = models.ForeignKey(Ranking, on_delete=models.PROTECT, null=True, related_name="+")
    confirmed_causes: Any = models.JSONField(default=list)
    confirmed_how = models.CharField(max_length=12, choices=Confirmed.choices, blank=True)
    actions: Any = models.JSONField(default=list)
    findings_before: Any = models.JSONField(default=dict)  # code: present or absent
    findings_after: Any = models.JSONField(default=dict)
    readings_before = models.ManyToManyField(Reading, related_name="+", blank=True)
    readings_after = models.ManyToManyField(Reading, related_name="+", blank=True)
    came_to = models.CharField(max_length=8, choices=CameTo.choices)
    days_to_look = models.PositiveIntegerField()
    ends = models.BooleanField(default=True)  # the look was closed with it; else another day was agreed on
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    corrects = models.OneToOneField(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="corrected_by"
    )

    class Meta:
        verbose_name = _("outcome")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["check_in"], condition=Q(corrects__isnull=True), name="outcome_once_for_each_look"
            ),
            models.CheckConstraint(condition=Q(came_to__in=CameTo.values), name="outcome_came_to_known"),
            models.CheckConstraint(
                condition=Q(confirmed_how="") | Q(confirmed_how__in=Confirmed.values),
                name="outcome_how_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case_id}: {self.came_to}"
