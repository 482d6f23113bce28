"""The take-home action plan: from the snapshot fixed at issue to the PDF a grower carries home."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from reports.documents.letters import Undrawn, undrawn_places
from reports.documents.paper import (
    distinct,
    how_sure,
    language_of,
    paper_html,
    paper_pdf,
    sentence_case,
    sure_bar,
)
from reports.documents.readings import bands, is_outside, reading_row, readings_that_matter
from reports.documents.two_weeks import days_texts, days_view, shopping_view, steps_by_line
from reports.pdf import Rendered, address

_WHEN = ("today", "this-week", "later")
_MOST_BESIDE = 1500  # letters that stand in two columns; more is hard to read there and slow to lay out
_LONGEST_BESIDE = 40  # letters of one word that fit half a page
_SEAM = re.compile(r"(?<=[,;])\s+|\s+(?=\()")  # where a long quantity may be parted
_SHORT_QUANTITY = 44  # letters of a quantity that stays in one piece


def render_plan(snapshot: dict[str, Any], photo_bytes: Callable[[int], bytes]) -> Rendered:
    """The plan as a PDF, in the snapshot's language and on its shop's paper.

    `photo_bytes` gives the picture (JPEG, PNG or WebP) of a photo by its id; what it raises passes through.
    Raises PdfUnavailable and PdfRefused as `reports.pdf.render_pdf` does.
    """
    resources = {_photo_name(photo): (photo_bytes(photo["id"]), "image/*") for photo in snapshot["photos"]}
    # Said on a draft while something can be done about it; what is issued goes to the grower.
    places = undrawn_places(snapshot) if snapshot["plan"]["draft"] else []
    html = plan_html(snapshot, places)
    return paper_pdf(html, snapshot["shop"]["paper"], style="plan.css", resources=resources)


def plan_html(snapshot: dict[str, Any], undrawn: Sequence[Undrawn] = ()) -> str:
    """The plan as the page that is printed; on a draft `undrawn` says which letters will be missing."""
    with translation.override(language_of(snapshot)):
        context = {**_context(snapshot), "places": undrawn}
        return paper_html("documents/plan.html", snapshot, context)


def _context(snapshot: dict[str, Any]) -> dict[str, Any]:
    steps = _steps(snapshot["actions"])
    told = {caution for step in steps for caution in step["cautions"]}
    drawn = readings_that_matter(snapshot)
    lines = steps_by_line(snapshot["actions"], _WHEN)
    days = days_view(snapshot, lines)
    return {
        "draft": snapshot["plan"]["draft"],
        "today": [step for step in steps if step["when"] == "today"],
        "rest": [
            (title, chosen)
            for title, code in ((_("This week"), "this-week"), (_("Later"), "later"))
            if (chosen := [step for step in steps if step["when"] == code])
        ],
        "days": days,
        "days_layout": _layout(days_texts(days)),
        "shopping": shopping_view(snapshot, lines),
        "cautions": distinct(caution for caution in snapshot["cautions"] if caution not in told),
        "opening_layout": _layout([snapshot["plan"]["greeting"]]),
        "seen_layout": "seen-whole" if _has_long_word(_seen_texts(snapshot)) else "columns",
        "sums_layout": _sums_layout(snapshot),
        "ahead_layout": _layout(_ahead_texts(snapshot)),
        "seen": [sentence_case(item["text"]) for item in snapshot["seen"]],
        "not_seen": [sentence_case(item["text"]) for item in snapshot["not_seen"]],
        "practices": [sentence_case(item["text"]) for item in snapshot["practices"]],
        "next_checks": [{**check, "name": sentence_case(check["name"])} for check in snapshot["next_checks"]],
        "causes": [_cause(cause, f"cause-{index}") for index, cause in enumerate(snapshot["causes"])],
        "other_causes": [{**cause, "sure": how_sure(cause)} for cause in snapshot["other_causes"]],
        "better": _better(snapshot["better"]),
        "bands": bands(drawn),
        "undrawn": len(drawn) < len(snapshot["readings"]),
        "outside_undrawn": any(is_outside(row) and row not in drawn for row in snapshot["readings"]),
        "readings": [reading_row(reading) for reading in snapshot["readings"]],
        "photos": [{**photo, "address": address(_photo_name(photo))} for photo in snapshot["photos"]],
        "garden_facts": distinct(snapshot["case"][part] for part in ("stage", "system", "medium", "garden")),
    }


def _seen_texts(snapshot: Mapping[str, Any]) -> list[str]:
    parts = (*snapshot["seen"], *snapshot["not_seen"], *snapshot["practices"])
    return [snapshot["case"]["story"], *(item["text"] for item in parts)]


def _ahead_texts(snapshot: Mapping[str, Any]) -> list[str]:
    checks = [check[part] for check in snapshot["next_checks"] for part in ("name", "how")]
    return [*checks, *(item["text"] for item in snapshot["better"])]


def _sums_texts(snapshot: Mapping[str, Any]) -> list[str]:
    return [
        text
        for working in snapshot["workings"]
        for text in (working["title"], working["source"], *working["lines"])
    ]


def _sums_layout(snapshot: Mapping[str, Any]) -> str:
    if _has_long_word(_sums_texts(snapshot)):
        return "sums-whole"
    return "sums" if len(snapshot["workings"]) > 2 else "sums sums-few"


def _layout(texts: Sequence[str]) -> str:
    """The class of a block that holds these texts: in two columns, or one below the other."""
    short = sum(map(len, texts)) <= _MOST_BESIDE and not _has_long_word(texts)
    return "beside" if short else "stacked"


def _has_long_word(texts: Sequence[str]) -> bool:
    return any(len(word) > _LONGEST_BESIDE for text in texts for word in text.split())


def _photo_name(photo: Mapping[str, Any]) -> str:
    return f"photo-{int(photo['id'])}"


def _steps(actions: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The actions in the order of their numbers. A caution is told in full at the first step it is for."""
    first_at: dict[str, int] = {}
    steps = []
    ordered = (action for when in _WHEN for action in actions if action["when"] == when)
    for number, action in enumerate(ordered, start=1):
        amount, how = split_quantity(action["quantity"])
        # Plans issued before cautions stood at their step have none here.
        cautions = distinct(action.get("cautions", ()))
        again = sorted({first_at[caution] for caution in cautions if caution in first_at})
        new = [caution for caution in cautions if caution not in first_at]
        first_at |= dict.fromkeys(new, number)
        step = {"number": number, "amount": amount, "how": how, "stop": _stop(action)}
        steps.append({**action, **step, "cautions": cautions, "new": new, "again": again})
    numbers = {step["text"]: step["number"] for step in steps}
    return [{**step, "waits_step": numbers.get(step.get("waits_for") or "")} for step in steps]


def _stop(action: Mapping[str, Any]) -> str:
    """When to stop and call. Older plans have only what the rules say of the action, which may be nothing."""
    return str(action.get("stop") or action["stop_when"])


def _better(signs: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Soonest first, each sentence once, with its first day."""
    first: dict[str, Mapping[str, Any]] = {}
    for sign in sorted(signs, key=lambda sign: int(sign["days"])):
        first.setdefault(sign["text"], sign)
    return list(first.values())


def split_quantity(quantity: str) -> tuple[str, str]:
    """A quantity as what is read from afar and the rest, which may be empty. Together they are the whole.

    A long one is parted where its first number has been said: at a comma, a semicolon or a bracket.
    """
    number = re.search("[0-9]", quantity)
    if number is None or len(quantity) <= _SHORT_QUANTITY:
        return quantity, ""
    seam = _SEAM.search(quantity, number.end())
    return (quantity[: seam.start()], quantity[seam.end() :]) if seam else (quantity, "")


def _cause(cause: Mapping[str, Any], key: str) -> dict[str, Any]:
    # "for" is a word of the template language.
    return {
        **cause,
        "sure": how_sure(cause),
        "bar": sure_bar(cause, key),
        "speaks_for": [sentence_case(reason) for reason in cause["for"]],
        "against": [sentence_case(reason) for reason in cause["against"]],
        "layout": _layout([*cause["for"], *cause["against"], cause["wrong_cost"], cause["laboratory"]]),
    }
