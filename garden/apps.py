"""Ground floor: growers, gardens, readings, photos; the science of growing."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class GardenConfig(AppConfig):
    name = "garden"
    verbose_name = _("Growers and gardens")
