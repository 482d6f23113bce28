"""Writes the question log."""

from django.db import transaction
from django.utils import timezone

from consults.models import Question
from garden.models import Grower, Staff


@transaction.atomic
def question_save(
    *,
    words: str,
    answer: str,
    by: Staff | None,
    grower: Grower | None = None,
    question: Question | None = None,
) -> Question:
    """Log a question, or change one. It counts as answered from the first time an answer stands there."""
    if question is None:
        question = Question(logged_by=by)
    question.words = words
    question.answer = answer
    question.grower = grower or question.grower
    question.answered_at = (question.answered_at or timezone.now()) if answer else None
    if by is not None:
        question._history_user = by  # type: ignore[attr-defined]
    question.save()
    return question
