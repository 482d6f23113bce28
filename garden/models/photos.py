"""Private pictures. What is stored is drawn anew from the pixels: no place, no device, no hidden tail."""

import secrets

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from garden.models.places import Planting


def private_path(photo: "Photo", filename: str) -> str:
    """A name nobody can guess, whatever the file was called."""
    return f"photos/{secrets.token_hex(16)}.jpg"


class Photo(models.Model):
    planting = models.ForeignKey(Planting, on_delete=models.CASCADE, related_name="photos")
    image = models.FileField(upload_to=private_path)
    thumbnail = models.FileField(upload_to=private_path)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    caption = models.CharField(_("what it shows"), max_length=200, blank=True)
    taken_at = models.DateTimeField(_("taken at"), null=True, blank=True)
    uploaded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    uploaded_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name = _("photo")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["planting", "sha256"], name="photo_once_per_planting"),
        ]

    def __str__(self) -> str:
        return self.caption or str(_("photo"))
