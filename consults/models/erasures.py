"""That a grower was forgotten: when, by whom, how much. Nothing in it says who it was."""

from typing import Any

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from garden.models import Grower


class Erasure(models.Model):
    """While `is_open`, the guards of issued plans let this grower's words out of them, and nothing else.

    It is opened and closed inside the one transaction that erases, so nobody else ever sees it open.
    `files` are the names in the store that are still to be removed: emptied once they are gone.
    """

    grower = models.OneToOneField(Grower, on_delete=models.CASCADE, related_name="erasure")
    is_open = models.BooleanField(default=False, editable=False)
    erased_at = models.DateTimeField(_("erased at"))
    erased_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    counts: Any = models.JSONField(default=dict)
    files: Any = models.JSONField(default=list)

    class Meta:
        verbose_name = _("record of an erasure")
        ordering = ["-pk"]

    def __str__(self) -> str:
        return str(_("Grower %(number)s was erased") % {"number": self.grower_id})
