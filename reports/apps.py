"""Top floor: documents and messages."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ReportsConfig(AppConfig):
    name = "reports"
    verbose_name = _("Documents and messages")

    def ready(self) -> None:
        from consults.shop.panels import register_panel
        from consults.signals import plan_issued
        from reports.messages.panels import failed_messages_panel
        from reports.messages.services import plan_message_create

        plan_issued.connect(plan_message_create)
        register_panel(failed_messages_panel)
