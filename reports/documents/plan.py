"""The take-home action plan: from the snapshot fixed at issue to the PDF a grower carries home."""

from collections.abc import Callable, Mapping
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
_LIMITS = ("low", "high", "wide_low", "wide_high")
_DRAWN = ("name", "shown", "unit", "value", "band_shown", "verdict", *_LIMITS)


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
    actions = snapshot["actions"]
    return {
        **snapshot,
        "language": snapshot["language"] or "en",
        "rtl": translation.get_language_bidi(),
        "today": [action for action in actions if action["when"] == "today"],
        "rest": [
            (title, chosen)
            for title, code in ((_("This week"), "this-week"), (_("Later"), "later"))
            if (chosen := [action for action in actions if action["when"] == code])
        ],
        "stop_when": _distinct(action["stop_when"] for action in actions),
        "cautions": _distinct(snapshot["cautions"]),
        "causes": [_cause(cause, f"cause-{index}") for index, cause in enumerate(snapshot["causes"])],
        "other_causes": [{**cause, "sure": how_sure(cause)} for cause in snapshot["other_causes"]],
        "bands": _bands(snapshot["readings"]),
        "readings": [_reading(reading) for reading in snapshot["readings"]],
        "photos": [{**photo, "address": address(_photo_name(photo))} for photo in snapshot["photos"]],
        "garden_facts": _distinct(snapshot["case"][part] for part in ("stage", "system", "medium", "garden")),
    }


def _distinct(texts: Any) -> list[str]:
    return list(dict.fromkeys(text for text in texts if text))


def _photo_name(photo: Mapping[str, Any]) -> str:
    return f"photo-{int(photo['id'])}"


def how_sure(cause: Mapping[str, Any]) -> str:
    """A likelihood in words a person can weigh, such as "likely, 7 in 10"; never 0 or 10 in 10."""
    tenths = int(cause["in_ten"])
    if tenths <= 0:
        share = _("less than 1 in 10")
    elif tenths >= 10:
        share = _("more than 9 in 10")
    else:
        share = _("%(tenths)d in 10") % {"tenths": tenths}
    return f"{cause['word']}, {share}" if cause["word"] else share


def _cause(cause: Mapping[str, Any], key: str) -> dict[str, Any]:
    sure = how_sure(cause)
    bar = likelihood_bar(cause["probability"], title=_("How sure we are: %(sure)s") % {"sure": sure}, key=key)
    # "for" is a word of the template language.
    return {**cause, "sure": sure, "bar": SafeString(bar), "speaks_for": cause["for"]}


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


def _bands(readings: list[dict[str, Any]]) -> SafeString | None:
    """The plot of all readings that have a band; None when there is none."""
    rows = [
        BandRow(**{name: reading[name] for name in _DRAWN})
        for reading in readings
        if any(reading[edge] is not None for edge in _LIMITS)
    ]
    if not rows:
        return None
    labels = _labels()
    # The PDF speaks a figure's title only, so it says it all.
    title = " ".join([_("Readings on their bands."), describe_bands(rows, labels)])
    return SafeString(band_figure(rows, title=title, labels=labels, key="readings", font=_FIGURE_FONT))


def _reading(reading: Mapping[str, Any]) -> dict[str, Any]:
    origins = {
        "measured": _("measured"),
        "garden": _("from the garden's description"),
        "computed": _("computed"),
        "estimated": _("estimated"),
    }
    return {
        **reading,
        "word": _labels().word(reading["verdict"]),
        "origin": origins.get(reading["origin"], reading["origin"]),
    }
