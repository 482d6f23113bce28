"""What an interview remembers between two questions, in the session of whoever asks.

Answers themselves go into the case. Only what has no place there is kept here: the questions nobody could
answer, and the order in which they were asked, for the way back.
"""

from dataclasses import dataclass, field
from typing import Any

from django.contrib.sessions.backends.base import SessionBase

KEY = "interviews"
CASES_KEPT = 20  # interviews remembered at once; the oldest is forgotten

Asked = tuple[str, str]  # kind of question, code


@dataclass
class Memory:
    """The interview of one case."""

    unanswered: list[Asked] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)


def recall(session: SessionBase, case_pk: int) -> Memory:
    """Return what is remembered about this case; nothing at first."""
    kept: dict[str, Any] = session.get(KEY, {}).get(str(case_pk), {})
    return Memory(_pairs(kept.get("unanswered", ())), _pairs(kept.get("asked", ())))


def remember(session: SessionBase, case_pk: int, memory: Memory) -> None:
    """Keep `memory` as the newest."""
    kept: dict[str, Any] = dict(session.get(KEY, {}))
    kept.pop(str(case_pk), None)
    kept[str(case_pk)] = {"unanswered": memory.unanswered, "asked": memory.asked}
    session[KEY] = dict(list(kept.items())[-CASES_KEPT:])


def _pairs(rows: Any) -> list[Asked]:
    return [(str(kind), str(code)) for kind, code in rows]
