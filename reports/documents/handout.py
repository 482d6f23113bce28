"""The hand-out for a question of the counter: what was asked, the answer in plain words, what to beware of.

One page, for anybody who asks the same: it names nobody. Pure: made from plain data.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from reports.documents.paper import distinct, language_of, paper_html, paper_pdf, sentence_case
from reports.pdf import Rendered

_TITLE = 140  # letters of a title; about three lines of large print
_SENTENCE = re.compile(r".+?(?:[?!.](?=\s|$)|[？！。؟]|$)")
# Sizes of letters in points, each with the most letters it is tried for.
_SIZES = ((13.0, 900), (11.5, 1600), (10.2, 2600), (9.2, 3600), (8.4, 10**9), (7.9, 10**9))
_BULLET = re.compile(r"^\s*[-*•]\s+(.*)$")
_NUMBER = re.compile(r"^\s*\d{1,2}[.)]\s+(.*)$")


@dataclass(frozen=True)
class Block:
    """A paragraph, or a list of points (`kind`: "p", "ul" or "ol")."""

    kind: str
    lines: tuple[str, ...]


def render_handout(data: Mapping[str, Any]) -> Rendered:
    """The hand-out as a PDF: in large letters, smaller ones where it would not fit one page.

    Even the smallest may not be enough for an answer of very many short lines; then there is a second page.
    Raises PdfUnavailable and PdfRefused.
    """
    html, length = handout_html(data), len(data["answer"])
    made: Rendered | None = None
    for size in [size for size, most in _SIZES if length <= most]:
        css = f"html {{ font-size: {size}pt; }}"
        made = paper_pdf(html, data["shop"]["paper"], style="handout.css", more_css=[css])
        if made.pages == 1:
            break
    assert made is not None  # noqa: S101 - the last size is tried whatever the length
    return made


def handout_html(data: Mapping[str, Any]) -> str:
    """The hand-out as the page that is printed."""
    with translation.override(language_of(data)):
        blocks, own = read_answer(data["answer"])
        cautions = [sentence_case(caution) for caution in distinct([*own, *data["cautions"]])]
        context = {"title": title_of(data["words"]), "blocks": blocks, "cautions": cautions}
        return paper_html("documents/handout.html", data, context)


def title_of(words: str) -> str:
    """The question itself, as a title: the first sentence that asks, else the first one.

    What the asker told besides is theirs and does not go to others. Cut between words where it is too long.
    """
    text = " ".join(words.split())
    sentences = [match[0].strip() for match in _SENTENCE.finditer(text)] or [text]
    title = next((sentence for sentence in sentences if sentence[-1:] in "?？؟"), sentences[0])
    if len(title) <= _TITLE:
        return title
    cut = title.rfind(" ", 0, _TITLE)
    return title[: cut if cut > 0 else _TITLE].rstrip(",;:") + "…"


def read_answer(answer: str) -> tuple[list[Block], list[str]]:
    """An answer as blocks, and the cautions in it: lines that begin with the word for it."""
    blocks: list[Block] = []
    cautions: list[str] = []
    mark = _("Caution:").casefold()
    open_kind = ""
    for line in answer.splitlines():
        text = line.strip()
        if not text:
            open_kind = ""
        elif text.casefold().startswith(mark):
            cautions.append(text[len(mark) :].strip())
            open_kind = ""
        else:
            kind, said = _kind(text)
            if kind == open_kind:
                blocks[-1] = Block(kind, (*blocks[-1].lines, said))
            else:
                blocks.append(Block(kind, (said,)))
            open_kind = kind
    return blocks, [caution for caution in cautions if caution]


def _kind(line: str) -> tuple[str, str]:
    for kind, shape in (("ul", _BULLET), ("ol", _NUMBER)):
        if match := shape.match(line):
            return kind, match[1]
    return "p", line


def spoken_of(texts: Sequence[str], words: Mapping[str, str]) -> list[str]:
    """The codes of `words` (words with commas between, by code) that the texts have one whole word of."""
    said = " ".join(" ".join(texts).casefold().split())
    found = []
    for code, listed in words.items():
        parts = [re.escape(word.strip().casefold()) for word in listed.split(",") if word.strip()]
        if parts and re.search(rf"(?<!\w)(?:{'|'.join(parts)})(?!\w)", said):
            found.append(code)
    return found
