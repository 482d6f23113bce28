"""How a look stands: answered, without an answer, overdue, due today, or still to come."""

import datetime
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from consults.models import CheckIn, FollowUp, LookReminder

ANSWERED, SILENT, OVERDUE, TODAY, COMING = "answered", "silent", "overdue", "today", "coming"


@dataclass(frozen=True)
class LookRow:
    """A look in a list, with the word and the class of its tag."""

    look: FollowUp
    state: str
    tag: str
    tag_class: str


def with_answers(looks: QuerySet[FollowUp]) -> QuerySet[FollowUp]:
    """Adds whether a reminder went out (`reminded`) and whether the grower answered (`answered`)."""
    this = CheckIn.objects.filter(plan=OuterRef("plan"), due_on=OuterRef("due_on"))
    reminders = LookReminder.objects.filter(
        check_in__plan=OuterRef("plan"), check_in__due_on=OuterRef("due_on"), went_out=True
    )
    return looks.annotate(reminded=Exists(reminders), answered=Exists(this.filter(sent_at__isnull=False)))


def looks_waiting() -> QuerySet[FollowUp]:
    """Looks not done that wait for somebody: due by the shop's calendar, or answered before their day."""
    open_looks = with_answers(FollowUp.objects.filter(done_at__isnull=True))
    return open_looks.filter(Q(due_on__lte=timezone.localdate()) | Q(answered=True))


def state_of(look: FollowUp, today: datetime.date) -> str:
    """`look` comes from `with_answers`; `today` is the shop's day.

    Silent is who was reminded and has not answered when the day is over.
    """
    if getattr(look, "answered"):  # noqa: B009 - the annotation
        return ANSWERED
    if look.due_on < today:
        return SILENT if getattr(look, "reminded") else OVERDUE  # noqa: B009
    return TODAY if look.due_on == today else COMING


def row_of(look: FollowUp, today: datetime.date) -> LookRow:
    """The look as a line of a list."""
    day = date_format(look.due_on, "j M")
    state = state_of(look, today)
    tags = {
        ANSWERED: (_("answered"), "tag-good"),
        SILENT: (_("no answer since %(day)s") % {"day": day}, "tag-stop"),
        OVERDUE: (_("overdue since %(day)s") % {"day": day}, "tag-stop"),
        TODAY: (_("today"), "tag-watch"),
        COMING: (day, ""),
    }
    return LookRow(look, state, *tags[state])
