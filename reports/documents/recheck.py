"""The sheet for looking again: the same readings with empty boxes, the signs to look for, and when to call.

Filled in by hand at the plants; made from the snapshot of a plan alone.
"""

from collections.abc import Mapping
from typing import Any

from django.utils import translation

from reports.documents.paper import distinct, language_of, paper_html, paper_pdf, sentence_case
from reports.pdf import Rendered

EMPTY_READINGS = 3  # rows to write in besides, or where nothing was measured
NOTE_LINES = 9
_MOST_BESIDE = 300  # letters that stand beside the lines to fill in


def render_recheck(snapshot: Mapping[str, Any]) -> Rendered:
    """The sheet as a PDF. Raises PdfUnavailable and PdfRefused."""
    return paper_pdf(recheck_html(snapshot), snapshot["shop"]["paper"], style="recheck.css")


def recheck_html(snapshot: Mapping[str, Any]) -> str:
    """The sheet as the page that is printed."""
    with translation.override(language_of(snapshot)):
        return paper_html("documents/recheck.html", snapshot, _context(snapshot))


def _context(snapshot: Mapping[str, Any]) -> dict[str, Any]:
    # What was computed is computed again: nobody measures it.
    halts = distinct(action["stop_when"] for action in snapshot["actions"])
    measured = [row for row in snapshot["readings"] if row["origin"] == "measured"]
    return {
        "draft": snapshot["plan"]["draft"],
        "measured": measured,
        "empty_readings": range(EMPTY_READINGS if not measured else 1),
        "signs": [sentence_case(item["text"]) for item in snapshot["seen"]],
        "deeds": [action for action in snapshot["actions"] if action["when"] != "later"],
        "better": _once(snapshot["better"]),
        "halts": halts,
        "halts_first": sum(map(len, halts)) <= _MOST_BESIDE,
        "note_lines": range(NOTE_LINES),
    }


def _once(signs: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Each sign of getting better once, the soonest first."""
    first: dict[str, Mapping[str, Any]] = {}
    for sign in sorted(signs, key=lambda sign: int(sign["days"])):
        first.setdefault(sign["text"], sign)
    return list(first.values())
