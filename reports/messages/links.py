"""Links that people follow without signing in: signed, for one purpose, not for ever."""

from datetime import timedelta

from django.conf import settings
from django.core.signing import BadSignature, TimestampSigner
from django.urls import reverse

from reports.models import Message

# The purpose is in the salt: a signature made for something else is not accepted here.
_PURPOSE = "reports.messages.links.no-reminders"
LIFETIME = timedelta(days=365)  # a link under an old mail still works; judgement


class LinkError(Exception):
    """The link was changed, is too old, or speaks of a message that is gone."""


def site_address() -> str:
    """Where the site is reached, such as https://desk.shop.example; "" where nobody said."""
    return str(settings.SITE_URL).rstrip("/")


def stop_token(message: Message) -> str:
    """What names this message in its link; nobody can make it up or turn it into another's."""
    return TimestampSigner(salt=_PURPOSE).sign(str(message.pk))


def stop_token_read(token: str) -> Message:
    """The message whose link this is, with its grower. Raises LinkError."""
    try:
        pk = int(TimestampSigner(salt=_PURPOSE).unsign(token, max_age=LIFETIME))
    except (BadSignature, ValueError) as error:  # too old is a kind of bad
        raise LinkError from error
    found = Message.objects.select_related("plan__case__grower").filter(pk=pk, plan__isnull=False).first()
    if found is None:
        raise LinkError
    return found


def stop_address(message: Message, *, one_click: bool = False) -> str:
    """The whole address of the link; "" where the site's own is not known or the mail is about no grower."""
    if not site_address() or message.plan_id is None:
        return ""
    name = "reminders-stop-one-click" if one_click else "reminders-stop"
    return site_address() + reverse(name, args=[stop_token(message)])


def masked(address: str) -> str:
    """An address that only its owner knows again: "ida@home.example" becomes "i…@h….example"."""
    name, _at, domain = address.rpartition("@")
    host, dot, top = domain.rpartition(".")
    return f"{name[:1]}…@{(host or top)[:1]}…{dot}{top if dot else ''}"
