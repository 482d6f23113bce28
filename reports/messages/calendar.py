"""The next look as an entry for the grower's calendar (iCalendar, RFC 5545; published as RFC 5546 says)."""

from datetime import date, timedelta
from email.mime.base import MIMEBase
from email.mime.text import MIMEText
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.utils.crypto import salted_hmac
from django.utils.encoding import punycode
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vCalAddress, vText

from consults.choices import PlanStatus
from consults.models import Plan
from consults.shop.selectors import shop_get

FILE_NAME = "next-look.ics"
_METHOD = "PUBLISH"
_MAKER = "-//Grower Consult Desk//Next look//EN"


def look_entry(plan: Plan) -> bytes | None:
    """The entry for the next look of an issued plan; None when the case never had one.

    All versions of a case's plan speak of one event: the same UID, and a SEQUENCE that rises with the
    version, so that a calendar moves the entry it has. A version without a look takes it back.
    The look has a day and no hour, so the event is of the whole day, and the day is the shop's: a time of day
    would be made up, and read in another zone it could fall on the day before. The same plan gives the same
    bytes.
    """
    day, status = plan.look_again_on, "CONFIRMED"
    if day is None:
        day, status = _day_before(plan), "CANCELLED"
    if day is None:
        return None
    calendar = Calendar()
    calendar.add("prodid", _MAKER)
    calendar.add("version", "2.0")
    calendar.add("method", _METHOD)
    calendar.add("x-wr-timezone", shop_get().time_zone)
    calendar.add_component(_event(plan, day, status))
    return bytes(calendar.to_ical())


def look_part(plan: Plan) -> MIMEBase | None:
    """The entry as a part of a mail; the type names the method, as RFC 6047 asks."""
    entry = look_entry(plan)
    if entry is None:
        return None
    part = MIMEText(entry.decode(), "calendar", "utf-8")
    part.set_param("method", _METHOD)
    part.add_header("Content-Disposition", "attachment", filename=FILE_NAME)
    return part


def _day_before(plan: Plan) -> date | None:
    """The look an earlier version promised, for this one to take back."""
    earlier = Plan.objects.filter(case=plan.case_id, version__lt=plan.version, status=PlanStatus.ISSUED)
    return earlier.order_by("-version").values_list("look_again_on", flat=True).first()


def _event(plan: Plan, day: date, status: str) -> Event:
    snapshot: dict[str, Any] = plan.snapshot or {}
    shop, crop = snapshot["shop"], snapshot["case"]["crop"]
    event = Event()
    event.add("uid", event_uid(plan))
    event.add("sequence", plan.version - 1)
    event.add("dtstamp", plan.issued_at)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))  # the day after is not part of it
    event.add("status", status)
    event.add("transp", "TRANSPARENT")
    words = {"shop": _plain(shop["name"]), "crop": _plain(crop)}
    event.add("summary", _("Look again: %(crop)s, with %(shop)s") % words if crop else _look(words))
    event.add("description", _description(shop))
    if shop["address"]:
        event.add(
            "location", ", ".join(_plain(line) for line in shop["address"].splitlines() if line.strip())
        )
    event.add("organizer", _organizer(shop))
    return event


def _look(words: dict[str, str]) -> str:
    return _("Look again, with %(shop)s") % words


def _description(shop: dict[str, Any]) -> str:
    lines = [_("Bring photos and what you noted, or come by.")]
    if shop["phone"]:
        lines.append(_("Call us to choose another day: %(phone)s") % {"phone": _plain(shop["phone"])})
    return "\n".join(lines)


def _organizer(shop: dict[str, Any]) -> vCalAddress:
    address = shop.get("email") or parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    organizer = vCalAddress(f"MAILTO:{address}")
    organizer.params["cn"] = vText(_plain(shop["name"]).replace('"', "'"))
    return organizer


def event_uid(plan: Plan) -> str:
    """The same for all versions of a case's plan, and not the same in another shop's database."""
    name = salted_hmac("reports.messages.calendar", f"look:{plan.case_id}", algorithm="sha256").hexdigest()
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    return f"{name[:32]}@{punycode(domain or 'localhost')}"


def _plain(text: str) -> str:
    """`text` on one line, without control characters."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
