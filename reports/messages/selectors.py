"""Reads of the outbox."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from consults.choices import PlanStatus
from consults.models import FollowUp, Plan
from reports.models import Message, MessageKind, MessageState

PAGE_SIZE = 50
FAILED = (MessageState.DEAD, MessageState.BOUNCED)  # somebody has to look at these
AGAIN = (*FAILED, MessageState.WITHHELD)  # what may be put into the queue once more


@dataclass(frozen=True)
class MessagePage:
    """Newest first; `older` is the key to ask the next page with, None on the last."""

    rows: list[Message]
    older: int | None


def message_page(*, failed_only: bool = False, before: int | None = None) -> MessagePage:
    found = Message.objects.select_related("plan")
    if failed_only:
        found = found.filter(state__in=FAILED)
    if before is not None:
        found = found.filter(pk__lt=before)
    rows = list(found.order_by("-pk")[: PAGE_SIZE + 1])
    more = len(rows) > PAGE_SIZE
    return MessagePage(rows[:PAGE_SIZE], rows[PAGE_SIZE - 1].pk if more else None)


def message_is_replaced(message: Message) -> bool:
    """Whether a newer version of its plan has been issued, so that this message must not go out any more."""
    if message.state == MessageState.REPLACED:
        return True
    if message.plan is None:
        return False
    newer = Plan.objects.filter(case=message.plan.case_id, version__gt=message.plan.version)
    return newer.filter(status=PlanStatus.ISSUED).exists()


def message_of_plan(plan_id: int) -> Message | None:
    """The mail an issued plan went out with; None when it went without."""
    return Message.objects.filter(plan_id=plan_id, kind=MessageKind.PLAN).first()


def reason_to_withhold(message: Message) -> str | None:
    """Why a message about a plan must not go out as things stand now; None when it may."""
    if message.plan is None:
        return None
    grower = message.plan.case.grower
    if not grower.agrees_to_email:
        return _("The grower no longer agrees to be emailed, so nothing was sent.")
    if grower.email.casefold() != message.to.casefold():
        return _("The grower has another address by now. Try again to send it there.")
    if grower.email_unreachable_at:
        return _("Mail to this address came back: %(why)s") % {"why": grower.email_unreachable_why}
    if message.kind == MessageKind.PLAN:
        return None
    if not grower.may_be_reminded:
        return _("The grower wants no reminders, so nothing was sent.")
    if not FollowUp.objects.filter(plan=message.plan, done_at__isnull=True).exists():
        return _("The look is done already, so nothing was sent.")
    return None
