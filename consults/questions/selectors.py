"""Reads the question log."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from consults.models import Question
from garden.people.selectors import contains

PAGE = 25
STATES = ("all", "open", "answered")


@dataclass(frozen=True)
class QuestionPage:
    """One page of questions and, when there is more, the row to go on from."""

    questions: list[Question]
    after: Question | None


def questions_open() -> QuerySet[Question]:
    """Neither answered nor made a case."""
    return Question.objects.filter(answered_at__isnull=True, case__isnull=True)


def questions_page(
    *, query: str = "", state: str = "all", before: datetime | None = None, before_pk: int | None = None
) -> QuestionPage:
    """Questions, newest first, that fit the search, from the given row on. One database query."""
    rows = questions_open() if state == "open" else Question.objects.all()
    if state == "answered":
        rows = rows.filter(answered_at__isnull=False)
    for word in query.replace("\x00", "").split()[:8]:
        rows = rows.filter(
            contains("words", word) | contains("answer", word) | contains("grower__name", word)
        )
    if before is not None and before_pk is not None:
        rows = rows.filter(Q(asked_at__lt=before) | Q(asked_at=before, pk__lt=before_pk))
    found = list(rows.select_related("grower", "case").order_by("-asked_at", "-pk")[: PAGE + 1])
    return QuestionPage(found[:PAGE], found[PAGE - 1] if len(found) > PAGE else None)
