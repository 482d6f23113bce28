"""What holds for each of the five documents: paper, language, hard texts, standards, repeatability."""

import html.parser
import re
from collections.abc import Callable

import pypdfium2
import pytest
from django.utils import translation

from tests.reports.documents import samples
from tests.reports.documents.every import EVERY, SHORT, changed, longer
from tests.reports.documents.standards import faults
from tests.reports.documents.tagged import opened, page_texts, text

NAMES = sorted(EVERY)
AR, HE, CJK, EMOJI = "مرحبا بالعالم", "שלום נועה", "王小明 日本語 한국어", "🌱🍅"
MARGIN = 45.0  # points; the narrowest margin is 16 mm


@pytest.fixture(scope="module")
def made():
    return {name: paper.render(paper.sample()) for name, paper in EVERY.items()}


@pytest.mark.parametrize("name", NAMES)
def test_it_can_be_read_aloud_and_kept_for_years(made, name):
    assert faults(made[name].pdf) == []


@pytest.mark.parametrize("name", NAMES)
def test_it_can_when_everything_optional_is_empty(name):
    rendered = EVERY[name].render(EVERY[name].bare())
    assert faults(rendered.pdf) == []
    assert rendered.letters == ""


@pytest.mark.parametrize("name", NAMES)
def test_the_same_data_gives_the_same_bytes(made, name):
    assert EVERY[name].render(EVERY[name].sample()).pdf == made[name].pdf


@pytest.mark.parametrize("name", NAMES)
def test_every_page_says_its_number_and_every_later_one_whose_and_what_it_is(name):
    pages = page_texts(EVERY[name].render(longer(EVERY[name].sample(), 12)).pdf)
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert page.count("Fernhollow Growing Supply") >= 2  # above and below


# --- paper ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("paper", "size"), [("A4", (595.3, 841.9)), ("Letter", (612, 792))])
def test_the_paper_is_the_shop_s_and_nothing_leaves_it(name, paper, size):
    data = EVERY[name].sample()
    data["shop"]["paper"] = paper
    content = EVERY[name].render(data).pdf
    assert off_the_page(content) == []
    for page in opened(content).pages:
        left, bottom, right, top = (float(edge) for edge in page.mediabox)
        assert (right - left, top - bottom) == pytest.approx(size, abs=0.5)


def off_the_page(content: bytes) -> list[str]:
    """Letters that lie in the margin or beyond the paper."""
    found = []
    document = pypdfium2.PdfDocument(content)
    for number, page in enumerate(document, 1):
        part = page.get_textpage()
        width, height = page.get_size()
        for index in range(part.count_rects()):
            left, bottom, right, top = part.get_rect(index)
            if left < MARGIN or right > width - MARGIN + 1 or bottom < 8 or top > height - 8:
                found.append(f"page {number}: {part.get_text_bounded(left, bottom, right, top)[:40]}")
        part.close()
        page.close()
    document.close()
    return found


# --- hard texts ---------------------------------------------------------------------------------------
HARD: dict[str, Callable[[str], str]] = {
    "very long words": lambda said: said + "Unbroken" * 24,
    "very long texts": lambda said: said + " and so on" * 30,
    "right to left": lambda said: f"{AR} {said} {HE}",
    "letters no font has, and emoji": lambda said: f"{said} {CJK} {EMOJI}",
    "markup": lambda said: said + "<b>&\"'</b><script>x</script>",
}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("hard", HARD)
def test_hard_texts_stay_on_the_paper_and_none_is_lost(name, hard):
    data = changed(EVERY[name].sample(), HARD[hard], but=SHORT)
    data["shop"] |= {part: HARD[hard]("Shop")[:120] for part in ("name", "opening_hours")}
    rendered = EVERY[name].render(data)
    assert off_the_page(rendered.pdf) == []
    said = re.sub(r"\s+", "", text(rendered.pdf))
    if hard == "markup":
        assert "<script>x</script>" in said
    if hard == "very long words":
        assert said.count("Unbroken" * 24) >= 3


@pytest.mark.parametrize("name", NAMES)
def test_twenty_times_as_much_of_everything_is_all_there(name):
    data = longer(EVERY[name].sample())
    rendered = EVERY[name].render(data)
    assert faults(rendered.pdf) == []
    assert off_the_page(rendered.pdf) == []
    said = re.sub(r"\s+", " ", text(rendered.pdf))
    for key, least in (("causes", 20), ("seen", 20), ("checks", 20)):
        for item in data.get(key, [])[:1]:
            words = item.get("name") or item["text"]
            if words in re.sub(r"\s+", " ", text(EVERY[name].render(EVERY[name].sample()).pdf)):
                assert said.count(words) >= least


HEADINGS = re.compile("h[123]")


class _Headings(html.parser.HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._open = False

    def handle_starttag(self, tag, attrs):
        if HEADINGS.fullmatch(tag):
            self._open = True
            self.found.append("")

    def handle_endtag(self, tag):
        if HEADINGS.fullmatch(tag):
            self._open = False

    def handle_data(self, data):
        if self._open:
            self.found[-1] += data


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("times", [3, 7])
def test_no_heading_stands_alone_at_the_foot_of_a_page(name, times):
    data = longer(EVERY[name].sample(), times)
    reader = _Headings()
    reader.feed(EVERY[name].html(data))
    headings = {" ".join(heading.split()) for heading in reader.found}
    for page in page_texts(EVERY[name].render(data).pdf):
        lines = [line.strip() for line in page.split("\n") if line.strip()]
        body = [line for line in lines if not re.match(r"Case 128|Question 41|Page \d|Fernhollow.*960", line)]
        assert not body or body[-1] not in headings


# --- language -----------------------------------------------------------------------------------------
@pytest.fixture
def marked(monkeypatch):
    """Every translated text stands in white brackets, as if there were a catalogue."""

    def mark(message):
        return f"⟦{message}⟧" if message else ""

    catalogue = translation._trans
    monkeypatch.setattr(catalogue, "gettext", mark, raising=False)
    monkeypatch.setattr(
        catalogue, "ngettext", lambda one, many, n: mark(one if n == 1 else many), raising=False
    )
    monkeypatch.setattr(catalogue, "pgettext", lambda _context, message: mark(message), raising=False)


class _Texts(html.parser.HTMLParser):
    """All that is printed or read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.found += [value or "" for key, value in attrs if key in ("alt", "title", "aria-label")]

    def handle_data(self, data):
        self.found.append(data)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("state", ["sample", "bare", "draft"])
def test_every_word_of_its_own_goes_through_the_translation(marked, name, state):
    data = EVERY[name].bare() if state == "bare" else EVERY[name].sample()
    if state == "draft" and "plan" in data:
        data["plan"]["draft"] = True
        data["enough_to_tell"], data["fit"] = False, "unusual"
    page = EVERY[name].html(changed(data, lambda said: "0" if said else ""))
    reader = _Texts()
    reader.feed(page)
    said = "\u2029".join(reader.found)
    while (fewer := re.sub("⟦[^⟦⟧]*⟧", "0", said)) != said:
        said = fewer
    assert re.findall(r"[^\W\d_]{2,}", said) == []
    assert page.count("⟦") > 5


@pytest.mark.parametrize("name", NAMES)
def test_in_a_language_from_right_to_left_the_page_runs_that_way(name):
    data = {**EVERY[name].sample(), "language": "ar"}
    with translation.override("en"):
        assert '<html lang="ar" dir="rtl">' in EVERY[name].html(data)
        content = EVERY[name].render(data).pdf
    assert str(opened(content).Root.Lang) == "ar"
    assert faults(content) == []
    assert off_the_page(content) == []


# --- black and white -----------------------------------------------------------------------------------
@pytest.mark.parametrize("name", NAMES)
def test_its_style_names_no_colour_that_vanishes_on_a_black_and_white_printer(name):
    from reports.documents import paper

    for sheet in paper._STYLES.glob("*.css"):
        for colour in re.findall(r"(?<![-\w])color:\s*#([0-9a-f]{6})", sheet.read_text()):
            red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (0, 2, 4))
            grey = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
            assert 1.05 / (grey + 0.05) >= 4.5, f"{sheet.name}: #{colour}"


def test_drawings_tell_above_from_below_by_shape_and_by_word():
    said = EVERY["summary"].html(samples.summary())
    for mark in ("fig-above", "fig-below", "fig-inside", "7.4 pH, above", "45 %, below"):
        assert mark in said
