"""Versions of the rules, each stored whole once, so that an old case can be explained; the draft of the next
one; and what the archive of cases says about a draft.
"""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class RulesetVersion(models.Model):
    version = models.CharField(_("version"), max_length=12, unique=True)
    content = models.TextField(_("content"))
    note = models.CharField(_("what changed"), max_length=300, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name = _("version of the rules")
        ordering = ["-published_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(version=""), name="ruleset_has_version"),
        ]

    def __str__(self) -> str:
        return self.version


class RulesDraft(models.Model):
    """The rules as they are to become. A shop has at most one draft, which all its managers share.

    Every entry in `content` is whole by itself; what does not fit together yet is allowed, and is found by
    the loader. `revision` counts the saves: who publishes says which one they looked at.
    """

    slot = models.PositiveSmallIntegerField(default=1, unique=True, editable=False)
    content = models.TextField(_("content"))
    based_on = models.ForeignKey(RulesetVersion, on_delete=models.PROTECT, related_name="drafts")
    note = models.CharField(_("what changes and why"), max_length=300, blank=True)
    revision = models.PositiveIntegerField(default=1)
    started_at = models.DateTimeField(auto_now_add=True)
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    changed_at = models.DateTimeField(auto_now=True)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name = _("draft of the rules")
        constraints = [
            models.CheckConstraint(condition=Q(slot=1), name="rules_draft_is_the_only_one"),
        ]

    def __str__(self) -> str:
        return f"{self.based_on_id}/{self.revision}"


class ReplayState(models.TextChoices):
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    CANCELLED = "cancelled", _("cancelled")


class RulesReplay(models.Model):
    """The archive of cases ranked by two versions of the rules. Cases opened after its start are left out."""

    before = models.ForeignKey(RulesetVersion, on_delete=models.PROTECT, related_name="+")
    after = models.ForeignKey(RulesetVersion, on_delete=models.PROTECT, related_name="replays")
    state = models.CharField(max_length=10, choices=ReplayState.choices, default=ReplayState.RUNNING)
    total = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField(auto_now_add=True)
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    finished_at = models.DateTimeField(null=True, blank=True)
    nudged_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        verbose_name = _("replay of the archive")
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(state__in=ReplayState.values), name="replay_state_known"),
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="running"), name="replay_runs_one_at_a_time"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.before_id} → {self.after_id}"

    @property
    def is_running(self) -> bool:
        return self.state == ReplayState.RUNNING


class ReplayChunk(models.Model):
    """A share of a replay: the cases from `first` to `last` by key, or, numbered 0, the bundled case files.

    A worker holds it until `held_until`; then another may take it. What it came to is its `ReplayResult`.
    """

    replay = models.ForeignKey(RulesReplay, on_delete=models.CASCADE, related_name="chunks")
    number = models.PositiveIntegerField()
    first = models.BigIntegerField(null=True, blank=True)
    last = models.BigIntegerField(null=True, blank=True)
    cases = models.PositiveIntegerField()
    held_by = models.CharField(max_length=80, blank=True)
    held_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name = _("share of a replay")
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["replay", "number"], name="replay_chunk_once"),
            models.CheckConstraint(
                condition=Q(first__isnull=True, last__isnull=True)
                | Q(first__isnull=False, last__gte=models.F("first")),
                name="replay_chunk_is_a_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.replay_id}/{self.number}"


class ReplayResult(models.Model):
    """What one chunk came to. Its key is the chunk's: a chunk run twice counts once."""

    chunk = models.OneToOneField(
        ReplayChunk, on_delete=models.CASCADE, primary_key=True, related_name="result"
    )
    same = models.PositiveIntegerField(default=0)
    slight = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    unreadable = models.PositiveIntegerField(default=0)
    confirmed = models.PositiveIntegerField(default=0)
    agreed_before = models.PositiveIntegerField(default=0)
    agreed_after = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name = _("result of a share")

    def __str__(self) -> str:
        return str(self.chunk_id)


class ReplayChange(models.Model):
    """One case whose ranking would be another. The larger `weight`, the more it matters."""

    replay = models.ForeignKey(RulesReplay, on_delete=models.CASCADE, related_name="changes")
    case = models.ForeignKey(
        "consults.Case", on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    file = models.CharField(max_length=120, blank=True)
    before_cause = models.CharField(max_length=60)
    before_chance = models.FloatField()
    after_cause = models.CharField(max_length=60)
    after_chance = models.FloatField()
    moves: Any = models.JSONField(default=list)
    confirmed = models.CharField(max_length=200, blank=True)
    agreed_before = models.BooleanField(null=True, blank=True)
    agreed_after = models.BooleanField(null=True, blank=True)
    weight = models.FloatField()

    class Meta:
        verbose_name = _("changed ranking")
        ordering = ["-weight", "pk"]
        indexes = [models.Index(fields=["replay", "-weight", "id"], name="replay_change_order")]
        constraints = [
            models.UniqueConstraint(
                fields=["replay", "case"], condition=Q(case__isnull=False), name="replay_case_once"
            ),
            models.UniqueConstraint(
                fields=["replay", "file"], condition=~Q(file=""), name="replay_file_once"
            ),
            models.CheckConstraint(
                condition=Q(case__isnull=False, file="") | (Q(case__isnull=True) & ~Q(file="")),
                name="replay_change_is_case_or_file",
            ),
        ]

    def __str__(self) -> str:
        return self.file or str(self.case_id)
