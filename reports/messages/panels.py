"""What this floor shows on the start page."""

from django.urls import reverse
from django.utils.translation import gettext as _

from consults.shop.panels import SHOWN, Panel, PanelRow
from reports.messages.selectors import FAILED
from reports.models import Message, MessageState


def failed_messages_panel() -> Panel:
    """Emails that were given up or came back, for somebody to look at. Two queries."""
    found = Message.objects.filter(state__in=FAILED).order_by("-pk")
    rows = tuple(
        PanelRow(
            url=f"{reverse('messages')}?state=dead",
            name=message.to,
            note=message.report_note if message.state == MessageState.BOUNCED else message.last_error,
            tag=_("came back") if message.state == MessageState.BOUNCED else _("not sent"),
            tag_class="tag-stop",
        )
        for message in found[:SHOWN]
    )
    return Panel(
        code="messages",
        title=_("Messages that failed"),
        rows=rows,
        total=found.count(),
        empty=_("Every email went out."),
        more_url=f"{reverse('messages')}?state=dead",
    )
