"""What this floor shows on the start page."""

from django.urls import reverse
from django.utils.translation import gettext as _

from consults.shop.panels import SHOWN, Panel, PanelRow
from reports.models import Message, MessageState


def failed_messages_panel() -> Panel:
    """Emails that were given up, for somebody to look at. Two queries."""
    found = Message.objects.filter(state=MessageState.DEAD).order_by("-pk")
    rows = tuple(
        PanelRow(
            url=f"{reverse('messages')}?state=dead",
            name=message.to,
            note=message.last_error,
            tag=_("not sent"),
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
