"""All documents with the data they are tried with, and ways to make that data hard."""

import copy
from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass
from typing import Any

from reports.documents.card import card_html, render_card
from reports.documents.handout import handout_html, render_handout
from reports.documents.plan import plan_html, render_plan
from reports.documents.recheck import recheck_html, render_recheck
from reports.documents.summary import render_summary, summary_html
from reports.pdf import Rendered
from tests.reports.documents import samples

# Texts that steer a document and are not printed.
STEERING = {
    "language",
    "paper",
    "when",
    "verdict",
    "fit",
    "code",
    "quantity_code",
    "doses_from",
    "origin",
    "kind",
}
# Numbers, units, days and numbers of the phone: printed, and short whatever anybody types.
SHORT = {
    "phone", "email", "date", "look_again_on", "opened_on", "on", "due_on", "done_on", "doses_on", "hash",
    "ruleset", "shown", "unit", "band_shown", "low", "high", "round", "tank", "word", "chance", "by",
    "worked_by", "weekday", "start", "cost", "price", "pack", "amount", "total", "total_all",
}  # fmt: skip


@dataclass(frozen=True)
class Paper:
    """A document: how it is made, as a page and as a PDF, and the plain data it is tried with."""

    html: Callable[[Any], str]
    render: Callable[[Any], Rendered]
    sample: Callable[[], dict[str, Any]]
    bare: Callable[[], dict[str, Any]]


def _bare_handout() -> dict[str, Any]:
    shop = dict.fromkeys(samples.TYPICAL["shop"], "")
    return {**samples.handout(), "shop": shop, "number": None, "answer": "", "date": "", "cautions": []}


def _with_card_and_photos() -> dict[str, Any]:
    return {**samples.with_days(samples.with_card()), "photos": samples.with_photos(2)["photos"]}


EVERY: dict[str, Paper] = {
    "plan": Paper(
        plan_html, lambda data: render_plan(data, samples.photo), _with_card_and_photos, samples.bare
    ),
    "card": Paper(card_html, render_card, samples.with_card, samples.bare),
    "recheck": Paper(recheck_html, render_recheck, samples.with_card, samples.bare),
    "hand-out": Paper(handout_html, render_handout, samples.handout, _bare_handout),
    "summary": Paper(
        summary_html, lambda data: render_summary(data, samples.photo), lambda: samples.summary(2),
        samples.bare_summary,
    ),
}  # fmt: skip


def changed(value: Any, change: Callable[[str], str], *, but: Set[str] = frozenset(), key: str = "") -> Any:
    """The data with every text that is printed changed, `but` those under some names."""
    if isinstance(value, Mapping):
        return {name: changed(item, change, but=but, key=name) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [changed(item, change, but=but, key=key) for item in value]
    return change(value) if isinstance(value, str) and key not in STEERING | but else value


def longer(data: dict[str, Any], times: int = 20) -> dict[str, Any]:
    """The data with every list so many times as long."""
    made = copy.deepcopy(data)
    for key, value in made.items():
        if isinstance(value, list) and value and key != "photos":
            made[key] = [copy.deepcopy(item) for item in value for _time in range(times)]
    return made
