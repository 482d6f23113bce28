"""What all documents share: the paper, the strip with the shop, the foot, words and small marks."""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from garden.figures import likelihood_bar
from reports.pdf import Rendered, render_pdf

_STYLES = Path(__file__).parent / "static" / "documents"
_PAPERS = {"A4": "A4", "Letter": "letter"}
_LINES = ("address", "opening_hours")


def paper_html(template: str, data: Mapping[str, Any], context: Mapping[str, Any]) -> str:
    """A document as the page that is printed, in the language that is active.

    `data` has the shop; `context` what the template shows besides.
    """
    shop = data["shop"]
    return render_to_string(
        template,
        {
            **data,
            "language": language_of(data),
            "rtl": translation.get_language_bidi(),
            **context,
            "shop": {**shop, **{part: one_line(shop[part]) for part in _LINES}},
        },
    )


def paper_pdf(
    html: str,
    paper: str,
    *,
    style: str,
    more_css: Sequence[str] = (),
    resources: Mapping[str, tuple[bytes, str]] | None = None,
) -> Rendered:
    """The page on its paper ("A4" or "Letter"; anything else is A4), in a style of `static/documents`."""
    sheets = [(_STYLES / name).read_text(encoding="utf-8") for name in ("paper.css", style)]
    size = f"@page {{ size: {_PAPERS.get(paper, 'A4')}; }}"
    return render_pdf(html, css=[*sheets, size, *more_css], resources=resources or {})


def language_of(data: Mapping[str, Any]) -> str:
    return data["language"] or "en"


def one_line(text: str) -> str:
    return " · ".join(line.strip() for line in text.splitlines() if line.strip())


def distinct(texts: Iterable[str]) -> list[str]:
    """The texts that say something, each once."""
    return list(dict.fromkeys(text for text in texts if text))


def sentence_case(text: str) -> str:
    """The text with a capital first letter, unless its first word has its own capitals, as "pH" has."""
    first = text.split(maxsplit=1)[0] if text.strip() else ""
    return text[:1].upper() + text[1:] if first.islower() else text


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


def sure_bar(cause: Mapping[str, Any], key: str) -> SafeString:
    """The likelihood as a bar that says itself in words. `key` is unique in the document."""
    title = _("How sure we are: %(sure)s") % {"sure": how_sure(cause)}
    return SafeString(likelihood_bar(cause["probability"], title=title, key=key))
