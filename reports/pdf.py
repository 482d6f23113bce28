"""HTML to PDF. The only importer of WeasyPrint, and that only when a document is made: without Pango the
site still starts, and only the documents are missing.

Nothing is ever fetched: what a page shows is handed in as bytes and addressed by `address`. Any other address
in it, be it a web site, a file of this machine or a path, ends the rendering.
"""

import logging
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from types import ModuleType
from typing import Any

from django.utils.translation import gettext as _

_SCHEME = "desk"
_NAME = re.compile(r"[a-z0-9-]+")
_LOGGER = logging.getLogger("weasyprint")
# One document at a time: the count of missing letters is taken from a logger all threads share.
_ONE_AT_A_TIME = threading.Lock()


class PdfUnavailable(Exception):  # noqa: N818 -- the state of the machine, not a slip in a call
    """This machine lacks what making a PDF needs; the message says which Debian packages to install."""


class PdfRefused(Exception):  # noqa: N818 -- the page is refused, deliberately
    """The page asked for something it was not given, so no document was made."""


@dataclass(frozen=True)
class Rendered:
    """A finished document. `undrawn` counts the characters no font of this machine could draw."""

    pdf: bytes
    pages: int
    undrawn: int


def address(name: str) -> str:
    """The address under which a page shows the resource `name` (lowercase letters, digits, hyphens)."""
    if not _NAME.fullmatch(name):
        raise ValueError(f"A resource is named with lowercase letters, digits and hyphens, not {name!r}.")
    return f"{_SCHEME}:{name}"


def render_pdf(html: str, *, css: list[str], resources: Mapping[str, tuple[bytes, str]]) -> Rendered:
    """The page as a tagged PDF (PDF/UA-1); the same input gives the same bytes.

    `css` holds stylesheets as text, `resources` the bytes and media type of each name used with `address`.
    Raises PdfUnavailable when the machine cannot make PDFs, PdfRefused when the page asks for anything but
    its resources, ValueError when it has no title or no language.
    """
    weasyprint = _weasyprint()
    refused: list[str] = []
    fetch = _closed_fetcher(weasyprint, resources, refused)
    with _ONE_AT_A_TIME, _counting_undrawn() as undrawn:
        try:
            # The base makes relative addresses reach the fetcher too, which refuses them.
            page = weasyprint.HTML(string=html, base_url=f"{_SCHEME}:page", url_fetcher=fetch)
            sheets = [weasyprint.CSS(string=text, url_fetcher=fetch) for text in css]
            document = page.render(stylesheets=sheets, **_OPTIONS)
            if not document.metadata.title or not document.metadata.lang:
                raise ValueError("A page needs a title and a language to become a document.")
            pdf = document.write_pdf(**_OPTIONS)
        except weasyprint.urls.FatalURLFetchingError as error:
            raise PdfRefused(str(error)) from error
        if refused:  # a drawing swallows the refusal and leaves itself out
            raise PdfRefused(_refusal(refused[0]))
    return Rendered(pdf=bytes(pdf), pages=len(document.pages), undrawn=undrawn())


_OPTIONS: dict[str, Any] = {
    "pdf_variant": "pdf/ua-1",
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
def _counting_undrawn() -> Iterator[Callable[[], int]]:
    """Counts WeasyPrint's warnings of missing letters, even where its logger is kept quieter than that."""
    quiet, count = _LOGGER.getEffectiveLevel(), 0

    def watch(record: logging.LogRecord) -> bool:
        nonlocal count
        count += str(record.msg).startswith(".notdef glyph")
        return record.levelno >= quiet

    before = _LOGGER.level
    _LOGGER.addFilter(watch)
    _LOGGER.setLevel(min(quiet, logging.WARNING))
    try:
        yield lambda: count
    finally:
        _LOGGER.setLevel(before)
        _LOGGER.removeFilter(watch)
