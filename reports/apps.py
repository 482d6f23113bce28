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
        from consults.signals import look_due, plan_issued
        from reports.documents.services import plan_documents_create
        from reports.messages.panels import failed_messages_panel
        from reports.messages.reminders import look_reminder_create
        from reports.messages.services import plan_message_create

        plan_issued.connect(plan_documents_create)
        plan_issued.connect(plan_message_create)
        look_due.connect(look_reminder_create)
        register_panel(failed_messages_panel)
        register_check("pdf", _pdf_problem)
        # Only a process that serves pages sends mail by itself; a command that ends soon does not.
        request_started.connect(_start_background)
        _register_papers()


def _register_papers() -> None:
    from consults.cases.papers import register_paper

    register_paper(_("Mixing card for the reservoir"), "mixing-card-pdf", about="plan")
    register_paper(_("Sheet for looking again"), "recheck-pdf", about="plan")
    register_paper(_("Summary for the file"), "case-summary-pdf", about="case")
    register_paper(_("Hand-out"), "hand-out-pdf", about="question")


def _start_background(**_kwargs: object) -> None:
    from reports.messages.background import start_background

    start_background()


def _pdf_problem() -> str | None:
    from reports.pdf import pdf_problem

    return pdf_problem()
