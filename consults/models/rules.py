"""Versions of the rules, each stored whole once, so that an old case can be explained."""

from django.conf import settings
from django.db import models
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
