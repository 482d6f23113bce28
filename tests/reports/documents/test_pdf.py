"""HTML to PDF: tagged, repeatable, and closed to the outside."""

import http.server
import logging
import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from reports import pdf as pdf_module
from reports.pdf import PdfRefused, PdfUnavailable, address, pdf_problem, render_pdf, undrawable
from tests.reports.documents import samples
from tests.reports.documents.tagged import opened, tags, text


def page(body: str, head: str = "") -> str:
    return f'<html lang="en"><head><title>Leaf</title>{head}</head><body>{body}</body></html>'


def render(body: str, head: str = "", css: str = "", **resources):
    return render_pdf(page(body, head), css=[css], resources=resources)


@pytest.fixture
def listener():
    """A web server of this machine; yields its address and the list of paths that were asked for."""
    asked: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *args):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()
    thread.join()
    server.server_close()


BODIES = [
    '<img src="{url}/a.png" alt="a">',
    '<object data="{url}/a.svg"></object>',
    '<embed src="{url}/a.svg">',
    '<p style="background: url({url}/a.png)">a</p>',
    '<svg viewBox="0 0 1 1"><title>a</title><image href="{url}/a.png" width="1" height="1"/></svg>',
]
HEADS = [
    '<link rel="stylesheet" href="{url}/a.css">',
    "<style>@import url({url}/a.css);</style>",
    "<style>@font-face {{ font-family: a; src: url({url}/a.woff) }} body {{ font-family: a }}</style>",
    '<link rel="attachment" href="{url}/a.txt">',
]
PLACES = [(body, "") for body in BODIES] + [("a", head) for head in HEADS]


@pytest.mark.parametrize(("body", "head"), PLACES)
@pytest.mark.parametrize("kind", ["http", "file", "path", "relative"])
def test_a_page_that_asks_for_more_than_it_was_given_is_refused(listener, tmp_path, kind, body, head):
    web, asked = listener
    (tmp_path / "a.txt").write_text("secret")
    url = {"http": web, "file": tmp_path.as_uri(), "path": str(tmp_path), "relative": "photos"}[kind]
    with pytest.raises(PdfRefused, match="not given"):
        render(body.format(url=url), head.format(url=url))
    assert asked == []


def test_a_stylesheet_that_asks_for_more_is_refused(listener):
    web, asked = listener
    with pytest.raises(PdfRefused):
        render("a", css=f"@import url({web}/a.css);")
    assert asked == []


def test_a_picture_that_is_a_drawing_cannot_ask_for_more(listener):
    web, asked = listener
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><image href="{web}/a.png"/></svg>'
    )
    with pytest.raises(PdfRefused):
        render(f'<img src="{address("p")}" alt="a">', p=(drawing.encode(), "image/svg+xml"))
    assert asked == []


def test_a_given_picture_is_shown():
    made = render(
        f'<img src="{address("photo-1")}" alt="A leaf">', **{"photo-1": (samples.photo(1), "image/jpeg")}
    )
    assert [str(element.Alt) for tag, element in tags(opened(made.pdf)) if tag == "Figure"] == ["A leaf"]


@pytest.mark.parametrize("name", ["", "../x", "a b", "A", "http://x"])
def test_a_resource_has_a_plain_name(name):
    with pytest.raises(ValueError, match="lowercase"):
        address(name)


def test_the_same_page_gives_the_same_bytes_in_another_process_too():
    html = page("<h1>Leaf</h1><p>Green, ليمون</p>")
    first = render_pdf(html, css=["p { color: green }"], resources={})
    code = (
        "import sys; from reports.pdf import render_pdf\n"
        f"sys.stdout.buffer.write(render_pdf({html!r}, css=['p {{ color: green }}'], resources={{}}).pdf)"
    )
    other = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert other.stdout == first.pdf


def test_a_document_declares_itself_accessible_with_title_and_language():
    made = opened(render("<h1>Leaf</h1>").pdf)
    assert str(made.Root.Lang) == "en"
    assert bool(made.Root.MarkInfo.Marked)
    assert bool(made.Root.ViewerPreferences.DisplayDocTitle)
    with made.open_metadata() as metadata:
        assert metadata["dc:title"] == "Leaf"
        assert metadata["pdfuaid:part"] == "1"


@pytest.mark.parametrize("html", ["<html lang=en><body>a", "<title>a</title><body>a"])
def test_a_page_without_title_or_language_is_no_document(html):
    with pytest.raises(ValueError, match="title and a language"):
        render_pdf(html, css=[], resources={})


def test_letters_no_font_has_are_counted_and_kept_as_text():
    # Two code points of Unicode's private use area, which no font is bound to draw.
    made = render("<p>leaf \U000f1234\U000f1235</p>")
    assert made.undrawn == 2
    assert "leaf" in text(made.pdf)
    assert render("<p>leaf</p>").undrawn == 0


def test_counting_leaves_the_log_as_it_was(caplog):
    logger = logging.getLogger("weasyprint")
    before = (logger.level, list(logger.filters))
    with caplog.at_level(logging.ERROR, logger="weasyprint"):
        assert render("<p>\U000f1234</p>").undrawn == 1
    assert caplog.records == []
    assert (logger.level, list(logger.filters)) == before


def test_two_threads_count_each_their_own():
    counts: dict[int, int] = {}

    def work(number: int) -> None:
        counts[number] = render("<p>" + "\U000f1234" * number + "</p>").undrawn

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counts == {0: 0, 1: 1, 2: 2, 3: 3}


def test_this_machine_makes_documents():
    assert pdf_problem() is None


def test_without_pango_the_module_loads_and_the_problem_names_the_packages():
    code = """
import sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0.so.0'")
sys.meta_path.insert(0, Refuse())
from django.conf import settings
settings.configure(USE_I18N=False)
from reports import pdf
try:
    pdf.render_pdf("", css=[], resources={})
except pdf.PdfUnavailable as error:
    assert str(error) == pdf.pdf_problem()
    print(error)
"""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core"):
        assert package in ran.stdout


def test_a_missing_subset_library_is_a_problem_because_bytes_then_differ(monkeypatch):
    from weasyprint.text import ffi

    monkeypatch.setattr(ffi, "harfbuzz_subset", None)
    assert "libharfbuzz-subset0" in pdf_problem()


def test_importing_the_site_does_not_load_the_renderer():
    code = "import sys, reports.pdf; sys.exit('weasyprint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
    assert issubclass(PdfUnavailable, Exception)
    assert pdf_module.__doc__


def test_only_the_renderer_s_own_module_imports_it():
    root = Path(pdf_module.__file__).parents[1]
    importers = [
        path.relative_to(root).as_posix()
        for floor in ("garden", "consults", "reports")
        for path in (root / floor).rglob("*.py")
        if re.search(r"^\s*(import|from) weasyprint", path.read_text(), re.MULTILINE)
    ]
    assert importers == ["reports/pdf.py"]


def test_letters_no_font_has_are_named_each_once():
    assert render("<p>\U000f1235 leaf \U000f1234\U000f1235</p>").letters == "\U000f1235\U000f1234"


def test_the_machine_says_beforehand_which_letters_it_cannot_draw():
    said = ["Leaf, Blätter, ليمون, \u200bשלום ✓", "\U000f1234", "a\U000f1235\U000f1234\n\t\ufe0f"]
    assert undrawable(said) == "\U000f1234\U000f1235"
    assert undrawable(said[:1]) == ""
