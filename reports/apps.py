"""Top floor: documents and messages."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ReportsConfig(AppConfig):
    name = "reports"
    verbose_name = _("Documents and messages")

    def ready(self) -> None:
        from django.core.signals import request_started

        from consults.shop.health import register_check
        from consults.shop.panels import register_panel
        from consults.signals import plan_issued
        from reports.documents.services import plan_documents_create
        from reports.messages.panels import failed_messages_panel
        from reports.messages.services import plan_message_create

        plan_issued.connect(plan_documents_create)
        plan_issued.connect(plan_message_create)
        register_panel(failed_messages_panel)
        register_check("pdf", _pdf_problem)
        # Only a process that serves pages sends mail by itself; a command that ends soon does not.
        request_started.connect(_start_background)


def _start_background(**_kwargs: object) -> None:
    from reports.messages.background import start_background

    start_background()


def _pdf_problem() -> str | None:
    from reports.pdf import pdf_problem

    return pdf_problem()
