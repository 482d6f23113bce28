"""Reads of the outbox."""

from dataclasses import dataclass

from consults.choices import PlanStatus
from consults.models import Plan
from reports.models import Message, MessageState

PAGE_SIZE = 50


@dataclass(frozen=True)
class MessagePage:
    """Newest first; `older` is the key to ask the next page with, None on the last."""

    rows: list[Message]
    older: int | None


def message_page(*, failed_only: bool = False, before: int | None = None) -> MessagePage:
    found = Message.objects.select_related("plan")
    if failed_only:
        found = found.filter(state=MessageState.DEAD)
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
    return Message.objects.filter(plan_id=plan_id).first()
