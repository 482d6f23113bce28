"""HTML to PDF. The only importer of WeasyPrint, and that only when a document is made: without Pango the
site still starts, and only the documents are missing.

Nothing is ever fetched: what a page shows is handed in as bytes and addressed by `address`. Any other address
in it, be it a web site, a file of this machine or a path, ends the rendering.
"""

import io
import logging
import re
import threading
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from types import ModuleType
from typing import Any

from django.utils.html import escape
from django.utils.translation import gettext as _

from reports.pdf_finish import finish

_SCHEME = "desk"
_NAME = re.compile(r"[a-z0-9-]+")
_LOGGER = logging.getLogger("weasyprint")
_MOST_SHEETS = 40
# One document at a time: the count of missing letters is taken from a logger all threads share.
_ONE_AT_A_TIME = threading.Lock()


class PdfUnavailable(Exception):  # noqa: N818 -- the state of the machine, not a slip in a call
    """This machine lacks what making a PDF needs; the message says which Debian packages to install."""


class PdfRefused(Exception):  # noqa: N818 -- the page is refused, deliberately
    """The page asked for something it was not given, so no document was made."""


@dataclass(frozen=True)
class Rendered:
    """A finished document. `undrawn` counts the characters no font of this machine could draw, `letters`
    holds each of them once, in the order of the document."""

    pdf: bytes
    pages: int
    undrawn: int
    letters: str = ""


def address(name: str) -> str:
    """The address under which a page shows the resource `name` (lowercase letters, digits, hyphens)."""
    if not _NAME.fullmatch(name):
        raise ValueError(f"A resource is named with lowercase letters, digits and hyphens, not {name!r}.")
    return f"{_SCHEME}:{name}"


def render_pdf(html: str, *, css: list[str], resources: Mapping[str, tuple[bytes, str]]) -> Rendered:
    """The page as a tagged PDF to read and to keep (PDF/UA-1 and PDF/A-2a in one); the same input gives the
    same bytes. With letters that no font has it is neither, and does not say it is.

    `css` holds stylesheets as text, `resources` the bytes and media type of each name used with `address`.
    Raises PdfUnavailable when the machine cannot make PDFs, PdfRefused when the page asks for anything but
    its resources, ValueError when it has no title or no language.
    """
    weasyprint = _weasyprint()
    refused: list[str] = []
    fetch = _closed_fetcher(weasyprint, resources, refused)
    with _ONE_AT_A_TIME, _watching_undrawn() as undrawn:
        try:
            # The base makes relative addresses reach the fetcher too, which refuses them.
            page = weasyprint.HTML(string=html, base_url=f"{_SCHEME}:page", url_fetcher=fetch)
            sheets = [_sheet(weasyprint, text, fetch) for text in css]
            document = page.render(stylesheets=sheets, **_OPTIONS)
            document.color_profiles[_OPTIONS["output_intent"]] = _screen_colours(weasyprint)
            if not document.metadata.title or not document.metadata.lang:
                raise ValueError("A page needs a title and a language to become a document.")
            pdf = document.write_pdf(
                finisher=lambda _document, made: finish(made, complete=not undrawn), **_OPTIONS
            )
        except weasyprint.urls.FatalURLFetchingError as error:
            raise PdfRefused(str(error)) from error
        if refused:  # a drawing swallows the refusal and leaves itself out
            raise PdfRefused(_refusal(refused[0]))
    return Rendered(
        pdf=bytes(pdf),
        pages=len(document.pages),
        undrawn=len(undrawn),
        letters="".join(dict.fromkeys(undrawn)),
    )


_sheets: dict[str, Any] = {}


def _sheet(weasyprint: ModuleType, text: str, fetch: Callable[[str], Any]) -> Any:
    """A stylesheet, read once for each process when it asks for nothing: reading takes a while."""
    if text in _sheets:
        return _sheets[text]
    sheet = weasyprint.CSS(string=text, url_fetcher=fetch)
    if len(_sheets) < _MOST_SHEETS and not re.search(r"url|import|@font-face|\\\\", text, re.IGNORECASE):
        _sheets[text] = sheet
    return sheet


_drawable: dict[str, bool] = {}


def undrawable(texts: Iterable[str]) -> str:
    """The characters of these texts that no font of this machine can draw, each once, in their order.

    Asks the renderer itself, once for each character and process. Raises PdfUnavailable.
    """
    letters = dict.fromkeys("".join(texts))
    unknown = [letter for letter in letters if letter not in _drawable and _is_ink(letter)]
    if unknown:
        lines = "".join(f"<p>{escape(letter)}</p>" for letter in unknown)
        html = f'<html lang="en"><head><title>-</title></head><body>{lines}</body></html>'
        lacking = set(render_pdf(html, css=[], resources={}).letters)
        _drawable.update({letter: letter not in lacking for letter in unknown})
    return "".join(letter for letter in letters if not _drawable.get(letter, True))


def _is_ink(letter: str) -> bool:
    """Whether anything is to be drawn: not for controls, joiners, spaces and the marks that choose a form."""
    return unicodedata.category(letter) not in {"Cc", "Cf", "Zs", "Zl", "Zp", "Cs"} and not (
        "\ufe00" <= letter <= "\ufe0f" or "\U000e0100" <= letter <= "\U000e01ef"
    )


_OPTIONS: dict[str, Any] = {
    "pdf_variant": "pdf/a-2a",
    "output_intent": "desk-srgb",
    "optimize_images": True,
    "dpi": 150,
    "jpeg_quality": 80,
}


def pdf_problem() -> str | None:
    """What is wrong with making PDFs on this machine, in a sentence; None when all is well."""
    try:
        _weasyprint()
        from weasyprint.text import ffi
    except PdfUnavailable as error:
        return str(error)
    if ffi.harfbuzz_subset is None:
        return _(
            "PDF documents can be made, but not the same bytes twice: the library HarfBuzz-Subset is "
            "missing. On Debian install the package libharfbuzz-subset0."
        )
    return None


def _weasyprint() -> ModuleType:
    try:
        import weasyprint
        import weasyprint.urls
    except (ImportError, OSError) as error:
        message = _(
            "PDF documents cannot be made on this machine: WeasyPrint or the text library Pango is missing. "
            "On Debian install the packages libpango-1.0-0, libpangoft2-1.0-0, libharfbuzz-subset0 and "
            "fonts-dejavu-core, then start the site again."
        )
        raise PdfUnavailable(message) from error
    module: ModuleType = weasyprint
    return module


def _screen_colours(weasyprint: ModuleType) -> Any:
    """What the colours of the document mean, as a kept document must say. (WeasyPrint would read the same
    profile itself, and leave the file open.)"""
    profile = (files("weasyprint.pdf") / "sRGB2014.icc").read_bytes()
    names = (["r"], ["g"], ["b"])
    return weasyprint.css.ColorProfile(io.BytesIO(profile), "sRGB2014.icc", "relative-colorimetric", names)


def _closed_fetcher(
    weasyprint: ModuleType, resources: Mapping[str, tuple[bytes, str]], refused: list[str]
) -> Callable[[str], Any]:
    """A fetcher that knows the resources and nothing else; it cannot open anything.

    What else is asked for is added to `refused`.
    """
    known = {address(name): content for name, content in resources.items()}

    def fetch(url: str) -> Any:
        if url not in known:
            # Not an ordinary exception: WeasyPrint would log that one and go on.
            refused.append(url)
            raise weasyprint.urls.FatalURLFetchingError(_refusal(url))
        content, media_type = known[url]
        return weasyprint.urls.URLFetcherResponse(url, content, {"Content-Type": media_type})

    return fetch


def _refusal(url: str) -> str:
    return f"The page asks for {url[:200]!r}, which it was not given. Nothing is fetched for a document."


@contextmanager
def _watching_undrawn() -> Iterator[list[str]]:
    """The characters WeasyPrint warns of as they come, even where its logger is kept quieter than that."""
    quiet = _LOGGER.getEffectiveLevel()
    found: list[str] = []

    def watch(record: logging.LogRecord) -> bool:
        if str(record.msg).startswith(".notdef glyph") and isinstance(record.args, tuple):
            found.append(str(record.args[0]))
        return record.levelno >= quiet

    before = _LOGGER.level
    _LOGGER.addFilter(watch)
    _LOGGER.setLevel(min(quiet, logging.WARNING))
    try:
        yield found
    finally:
        _LOGGER.setLevel(before)
        _LOGGER.removeFilter(watch)
