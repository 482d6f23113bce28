"""Answers of the bench that were kept in a case."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from consults.models.cases import Case


class BenchAnswer(models.Model):
    """One answer as it was said, with the inputs it was worked out from."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="bench_answers")
    tool = models.CharField(max_length=60)
    question = models.CharField(_("question"), max_length=200)
    inputs = models.JSONField()
    answer = models.JSONField()
    kept_at = models.DateTimeField(auto_now_add=True)
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name = _("answer of the bench")
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~models.Q(tool=""), name="bench_answer_has_tool")]

    def __str__(self) -> str:
        return self.question
