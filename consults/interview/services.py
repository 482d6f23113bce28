"""Takes an answer of the interview into the case, and takes the last one back."""

from dataclasses import replace

from consults.cases import services
from consults.cases.checks import NOT_SEEN, SEEN
from consults.cases.meters import REPORTED
from consults.choices import Seen
from consults.interview.memory import Asked, Memory
from consults.models import Case
from consults.ruleset.conditions import ONSET

_STATES = {SEEN: Seen.PRESENT.value, NOT_SEEN: Seen.ABSENT.value}


def fact_answer(*, case: Case, question: Asked, answer: str) -> bool:
    """Record the answer to a finding or a habit; return whether it was one.

    Raises DeskError when the rules do not list it any more.
    """
    kind, code = question
    if kind == "finding" and answer in _STATES:
        services.finding_record(case=case, code=code, state=_STATES[answer])
        return True
    if kind == "practice" and answer == REPORTED:
        services.practice_report(case=case, code=code)
        return True
    return False


def onset_answer(*, case: Case, days: int) -> None:
    """Record how many days ago it began."""
    case.onset_days = days
    case.save(update_fields=["onset_days"])


def answer_take_back(*, case: Case, memory: Memory) -> Memory:
    """Take the last answer back and return the memory without it; the same when nothing was asked."""
    if not memory.asked:
        return memory
    last = memory.asked[-1]
    kind, code = last
    if last not in memory.unanswered:
        if kind == "finding":
            services.finding_record(case=case, code=code, state="")
        elif kind == "practice":
            case.practices.filter(code=code).delete()
        elif code == ONSET:
            case.onset_days = None
            case.save(update_fields=["onset_days"])
        else:
            services.reading_forget(case=case, quantity=code)
    return replace(
        memory,
        asked=memory.asked[:-1],
        unanswered=[question for question in memory.unanswered if question != last],
    )
