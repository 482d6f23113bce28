"""The take-home action plan: from the snapshot fixed at issue to the PDF a grower carries home."""

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from garden.figures import BandLabels, BandRow, band_figure, describe_bands, likelihood_bar
from reports.pdf import Rendered, address, render_pdf

_STYLE = Path(__file__).parent / "static" / "documents" / "plan.css"
_FIGURE_FONT = "DejaVu Sans, Noto Sans, sans-serif"
_PAPERS = {"A4": "A4", "Letter": "letter"}
_WHEN = ("today", "this-week", "later")
_LIMITS = ("low", "high", "wide_low", "wide_high")
_LINES = ("address", "opening_hours")
_DRAWN = ("name", "shown", "unit", "value", "band_shown", "verdict", *_LIMITS)
_MOST_BESIDE = 1500  # letters that stand in two columns; more is hard to read there and slow to lay out
_MOST_DRAWN = 9  # readings in the plot; the table at the end has them all
_SEAM = re.compile(r"(?<=[,;])\s+|\s+(?=\()")  # where a long quantity may be parted
_SHORT_QUANTITY = 44  # letters of a quantity that stays in one piece


def render_plan(snapshot: dict[str, Any], photo_bytes: Callable[[int], bytes]) -> Rendered:
    """The plan as a PDF, in the snapshot's language and on its shop's paper.

    `photo_bytes` gives the picture (JPEG, PNG or WebP) of a photo by its id; what it raises passes through.
    Raises PdfUnavailable and PdfRefused as `reports.pdf.render_pdf` does.
    """
    resources = {_photo_name(photo): (photo_bytes(photo["id"]), "image/*") for photo in snapshot["photos"]}
    paper = _PAPERS.get(snapshot["shop"]["paper"], "A4")
    css = [_STYLE.read_text(encoding="utf-8"), f"@page {{ size: {paper}; }}"]
    return render_pdf(plan_html(snapshot), css=css, resources=resources)


def plan_html(snapshot: dict[str, Any]) -> str:
    """The plan as the page that is printed."""
    with translation.override(snapshot["language"] or "en"):
        return render_to_string("documents/plan.html", _context(snapshot))


def _context(snapshot: dict[str, Any]) -> dict[str, Any]:
    steps = _steps(snapshot["actions"])
    told = {caution for step in steps for caution in step["cautions"]}
    drawn = readings_that_matter(snapshot)
    return {
        **snapshot,
        "language": snapshot["language"] or "en",
        "rtl": translation.get_language_bidi(),
        "shop": {**snapshot["shop"], **{part: _one_line(snapshot["shop"][part]) for part in _LINES}},
        "today": [step for step in steps if step["when"] == "today"],
        "rest": [
            (title, chosen)
            for title, code in ((_("This week"), "this-week"), (_("Later"), "later"))
            if (chosen := [step for step in steps if step["when"] == code])
        ],
        "cautions": _distinct(caution for caution in snapshot["cautions"] if caution not in told),
        "opening_layout": _layout([snapshot["plan"]["greeting"]]),
        "seen": [sentence_case(item["text"]) for item in snapshot["seen"]],
        "not_seen": [sentence_case(item["text"]) for item in snapshot["not_seen"]],
        "practices": [sentence_case(item["text"]) for item in snapshot["practices"]],
        "next_checks": [{**check, "name": sentence_case(check["name"])} for check in snapshot["next_checks"]],
        "causes": [_cause(cause, f"cause-{index}") for index, cause in enumerate(snapshot["causes"])],
        "other_causes": [{**cause, "sure": how_sure(cause)} for cause in snapshot["other_causes"]],
        "better": _better(snapshot["better"]),
        "bands": _bands(drawn),
        "undrawn": len(drawn) < len(snapshot["readings"]),
        "outside_undrawn": any(_is_outside(row) and row not in drawn for row in snapshot["readings"]),
        "readings": [_reading(reading) for reading in snapshot["readings"]],
        "photos": [{**photo, "address": address(_photo_name(photo))} for photo in snapshot["photos"]],
        "garden_facts": _distinct(snapshot["case"][part] for part in ("stage", "system", "medium", "garden")),
    }


def _distinct(texts: Any) -> list[str]:
    return list(dict.fromkeys(text for text in texts if text))


def _layout(texts: Sequence[str]) -> str:
    """The class of a block that holds these texts: in two columns, or one below the other."""
    return "beside" if sum(map(len, texts)) <= _MOST_BESIDE else "stacked"


def _one_line(text: str) -> str:
    return " · ".join(line.strip() for line in text.splitlines() if line.strip())


def _photo_name(photo: Mapping[str, Any]) -> str:
    return f"photo-{int(photo['id'])}"


def sentence_case(text: str) -> str:
    """The text with a capital first letter, unless its first word has its own capitals, as "pH" has."""
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    return text[:1].upper() + text[1:] if first.islower() else text


def _steps(actions: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The actions in the order of their numbers. A caution is told in full at the first step it is for."""
    first_at: dict[str, int] = {}
    steps = []
    ordered = (action for when in _WHEN for action in actions if action["when"] == when)
    for number, action in enumerate(ordered, start=1):
        amount, how = split_quantity(action["quantity"])
        # Plans issued before cautions stood at their step have none here.
        cautions = _distinct(action.get("cautions", ()))
        again = sorted({first_at[caution] for caution in cautions if caution in first_at})
        new = [caution for caution in cautions if caution not in first_at]
        first_at |= dict.fromkeys(new, number)
        step = {"number": number, "amount": amount, "how": how}
        steps.append({**action, **step, "cautions": cautions, "new": new, "again": again})
    return steps


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


def _is_outside(reading: Mapping[str, Any]) -> bool:
    return reading["verdict"] in ("below", "above")


def readings_that_matter(snapshot: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The readings to draw: those outside their band, then those the reasons speak of; at most nine."""
    reasons = [reason for cause in snapshot["causes"] for reason in (*cause["for"], *cause["against"])]
    banded = [row for row in snapshot["readings"] if any(row[edge] is not None for edge in _LIMITS)]
    outside = [row for row in banded if _is_outside(row)]
    spoken_of = [row for row in banded if not _is_outside(row) and _is_spoken_of(row, reasons)]
    return [*outside, *spoken_of][:_MOST_DRAWN]


def _is_spoken_of(reading: Mapping[str, Any], reasons: Sequence[str]) -> bool:
    """Whether a reason has the reading's name, or its value with a unit that is not that of anything."""
    value = rf"(?<![\d.,]){re.escape(reading['shown'])} {re.escape(reading['unit'])}(?!\w)"
    name = reading["name"].casefold()
    return any(
        bool(name and name in reason.casefold())
        or bool(reading["shown"] and reading["unit"] and re.search(value, reason))
        for reason in reasons
    )


def how_sure(cause: Mapping[str, Any]) -> str:
    """A likelihood in words a person can weigh, such as "likely, 7 in 10"; never 0 or 10 in 10."""
    share = cause.get("chance") or _chance(int(cause["in_ten"]))
    return f"{cause['word']}, {share}" if cause["word"] else share


def _chance(tenths: int) -> str:
    """For plans issued before snapshots had the words themselves."""
    if tenths <= 0:
        return _("less than 1 in 10")
    if tenths >= 10:
        return _("more than 9 in 10")
    return _("%(tenths)d in 10") % {"tenths": tenths}


def _cause(cause: Mapping[str, Any], key: str) -> dict[str, Any]:
    sure = how_sure(cause)
    bar = likelihood_bar(cause["probability"], title=_("How sure we are: %(sure)s") % {"sure": sure}, key=key)
    # "for" is a word of the template language.
    return {
        **cause,
        "sure": sure,
        "bar": SafeString(bar),
        "speaks_for": [sentence_case(reason) for reason in cause["for"]],
        "against": [sentence_case(reason) for reason in cause["against"]],
        "layout": _layout([*cause["for"], *cause["against"], cause["wrong_cost"], cause["laboratory"]]),
    }


def _labels() -> BandLabels:
    return BandLabels(
        inside=_("inside"),
        above=_("above"),
        below=_("below"),
        no_band=_("no band known"),
        comfortable=_("comfortable"),
        tolerated=_("tolerated"),
        last_time=_("last time"),
    )


def _bands(readings: Sequence[Mapping[str, Any]]) -> SafeString | None:
    """The plot of these readings; None when there is none."""
    rows = [BandRow(**{name: reading[name] for name in _DRAWN}) for reading in readings]
    if not rows:
        return None
    labels = _labels()
    # The PDF speaks a figure's title only, so it says it all.
    title = " ".join([_("Readings on their bands."), describe_bands(rows, labels)])
    return SafeString(band_figure(rows, title=title, labels=labels, key="readings", font=_FIGURE_FONT))


def _reading(reading: Mapping[str, Any]) -> dict[str, Any]:
    origins = {
        "measured": _("measured"),
        "garden": _("as described"),
        "computed": _("computed"),
        "estimated": _("estimated"),
    }
    return {
        **reading,
        "word": _labels().word(reading["verdict"]),
        "origin": origins.get(reading["origin"], reading["origin"]),
    }
