"""What people ask at the counter, and what they were told."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from garden.models import Grower


class Question(models.Model):
    grower = models.ForeignKey(
        Grower,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="questions",
        verbose_name=_("grower"),
    )
    words = models.TextField(_("the question, in the grower's own words"), max_length=4000)
    answer = models.TextField(_("what we said"), blank=True, max_length=4000)
    asked_at = models.DateTimeField(default=timezone.now)
    answered_at = models.DateTimeField(null=True, blank=True)
    logged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("question")
        ordering = ["-asked_at", "-pk"]
        indexes = [models.Index(fields=["-asked_at", "-id"])]
        constraints = [
            models.CheckConstraint(condition=~models.Q(words=""), name="question_has_words"),
            models.CheckConstraint(
                condition=models.Q(answered_at__isnull=True) | ~models.Q(answer=""),
                name="question_answered_has_answer",
            ),
        ]

    def __str__(self) -> str:
        return self.words[:60]
