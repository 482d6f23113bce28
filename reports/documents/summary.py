"""The consult on paper for the shop's file: what is known of a case, why it was judged so, what came of it.

Pure: made from plain data that `case_data` gathers.
"""

from collections.abc import Callable, Mapping
from typing import Any

from django.utils import translation

from reports.documents.paper import how_sure, language_of, paper_html, paper_pdf, sentence_case, sure_bar
from reports.documents.readings import bands, has_band, reading_row
from reports.pdf import Rendered, address

_DRAWN_TOGETHER = 12  # rows of one drawing, so that it fits a page


def render_summary(data: Mapping[str, Any], photo_bytes: Callable[[int], bytes]) -> Rendered:
    """The summary as a PDF. `photo_bytes` gives a picture by the photo's id; what it raises passes through.

    Raises PdfUnavailable and PdfRefused.
    """
    resources = {_photo_name(photo): (photo_bytes(photo["id"]), "image/*") for photo in data["photos"]}
    html = summary_html(data)
    return paper_pdf(html, data["shop"]["paper"], style="summary.css", resources=resources)


def summary_html(data: Mapping[str, Any]) -> str:
    """The summary as the page that is printed."""
    with translation.override(language_of(data)):
        return paper_html("documents/summary.html", data, _context(data))


def _context(data: Mapping[str, Any]) -> dict[str, Any]:
    drawn = [row for row in data["readings"] if has_band(row)]
    parts = [drawn[at : at + _DRAWN_TOGETHER] for at in range(0, len(drawn), _DRAWN_TOGETHER)]
    return {
        "draft": False,
        "plots": [bands(part, f"readings-{index}") for index, part in enumerate(parts)],
        "readings": [reading_row(row) for row in data["readings"]],
        "causes": [_cause(cause, f"cause-{index}") for index, cause in enumerate(data["causes"])],
        "other_causes": [{**cause, "sure": how_sure(cause)} for cause in data["other_causes"]],
        "practices": [sentence_case(text) for text in data["practices"]],
        "checks": [{**check, "text": sentence_case(check["text"])} for check in data["checks"]],
        "open_checks": [sentence_case(text) for text in data["open_checks"]],
        "photos": [{**photo, "address": address(_photo_name(photo))} for photo in data["photos"]],
    }


def _cause(cause: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {
        **cause,
        "sure": how_sure(cause),
        "bar": sure_bar(cause, key),
        "speaks_for": [sentence_case(reason) for reason in cause["for"]],
        "against": [sentence_case(reason) for reason in cause["against"]],
    }


def _photo_name(photo: Mapping[str, Any]) -> str:
    return f"photo-{int(photo['id'])}"
