"""The card that hangs at the reservoir: what to aim for, how much of what, in which order, and a log to fill.

Read from an arm's length with wet hands, so it is large; made from the snapshot of a plan alone.
"""

from collections.abc import Mapping
from typing import Any

from django.utils import translation

from reports.documents.paper import distinct, language_of, paper_html, paper_pdf
from reports.pdf import Rendered

LOG_ROWS = 15
EMPTY_DOSES = 3  # rows to write in where no dose is known
# Quantities of a plan that are about the solution.
_ABOUT_FEED = {
    "feed-ec-target",
    "feed-dilution",
    "reservoir-dilution",
    "ph-target",
    "alkalinity-removal",
    "magnesium-drench",
    "leach-volume",
}
# Quantities that say again what stands large on top of the card.
_SAID_ABOVE = {"feed-ec-target", "ph-target"}
_NOTHING: dict[str, Any] = {
    "aims": [], "round": "", "tank": "", "recirculating": False, "doses": [], "doses_from": "",
    "doses_on": "", "thinned": False, "answers": [], "cautions": [],
}  # fmt: skip


def render_card(snapshot: Mapping[str, Any]) -> Rendered:
    """The card as a PDF. Raises PdfUnavailable and PdfRefused."""
    return paper_pdf(card_html(snapshot), snapshot["shop"]["paper"], style="card.css")


def card_html(snapshot: Mapping[str, Any]) -> str:
    """The card as the page that is printed."""
    with translation.override(language_of(snapshot)):
        return paper_html("documents/card.html", snapshot, _context(snapshot))


def _context(snapshot: Mapping[str, Any]) -> dict[str, Any]:
    # Plans issued before there were cards have no "mixing".
    mixing = {**_NOTHING, **snapshot.get("mixing", {})}
    steps = [action for action in snapshot["actions"] if action.get("quantity_code") in _ABOUT_FEED]
    said = {code for code in _SAID_ABOVE if mixing["aims"]}
    return {
        "draft": snapshot["plan"]["draft"],
        **mixing,
        "from_plan": [step for step in steps if step["quantity"] and step["quantity_code"] not in said],
        "cautions": distinct(
            [
                *mixing["cautions"],
                *(caution for answer in mixing["answers"] for caution in answer["cautions"]),
                *(caution for step in steps for caution in step.get("cautions", ())),
            ]
        ),
        "empty_doses": range(0 if mixing["doses"] else EMPTY_DOSES),
        "log_rows": range(LOG_ROWS),
    }
