"""Each document is accessible and fit to be kept for years, in one file: PDF/UA-1 and PDF/A-2a.

No validator of a standards body is used here; `standards.faults` looks for what it knows of.
"""

import io

import pikepdf
import pytest

from reports.documents.plan import render_plan
from reports.pdf import render_pdf
from tests.reports.documents import samples
from tests.reports.documents.standards import faults
from tests.reports.documents.tagged import opened

PLANS = {
    "typical": samples.typical,
    "unsure": samples.unsure,
    "bare": samples.bare,
    "photos": lambda: samples.with_photos(3),
    "many actions": lambda: samples.many_actions(40),
    "older": samples.before_cautions_stood_at_steps,
    "days": samples.with_days,
    "many days": lambda: samples.with_days(samples.many_actions(40)),
}


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_can_be_read_aloud_and_kept_for_years(name):
    assert faults(render_plan(PLANS[name](), samples.photo).pdf) == []


def page(body: str) -> bytes:
    html = f'<html lang="en"><head><title>Leaf</title></head><body>{body}</body></html>'
    return render_pdf(html, css=[], resources={}).pdf


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        ("<h2>Leaf</h2>", "headings begin [2]"),
        ("<h1>Leaf</h1><h3>Tip</h3>", "a heading jumps from 1 to 3"),
        (
            "<h1>Leaf</h1><svg width='9' height='9'><rect width='5' height='5'/></svg>",
            "a figure without words",
        ),
        ("<h1>Leaf</h1><table><tr><td>1</td></tr></table>", "a cell without its headers"),
    ],
)
def test_a_page_written_badly_is_found_out(body, fault):
    assert fault in faults(page(body))


def test_a_spoilt_file_is_found_out():
    with opened(page("<h1>Leaf</h1>")) as pdf:
        del pdf.Root.OutputIntents
        del pdf.Root.MarkInfo
        action = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="1")
        pdf.Root.OpenAction = pdf.make_indirect(action)
        for found in pdf.objects:
            if isinstance(found, pikepdf.Dictionary) and found.get("/Type") == "/FontDescriptor":
                del found["/FontFile2"]
        spoilt = _written(pdf)
    found = " / ".join(faults(spoilt))
    for fault in ("no output intent", "not marked as tagged", "OpenAction", "/JS", "is not embedded"):
        assert fault in found


def _written(pdf: pikepdf.Pdf) -> bytes:
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def test_words_between_blocks_of_a_list_item_belong_to_its_body():
    assert faults(page("<h1>a</h1><ol><li>b<p>c</p>d</li><li><p>e</p><ul><li>f</li></ul></li></ol>")) == []


def test_a_document_with_letters_no_font_has_keeps_no_promise_and_makes_none():
    content = page("<h1>Leaf \U000f1234</h1>")
    found = faults(content)
    assert {fault for fault in found if "aid" in fault} == {
        "pdfaid:part is []",
        "pdfaid:conformance is []",
        "pdfuaid:part is []",
    }
