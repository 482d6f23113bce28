"""The take-home plan: what it says, in which order, for whom, and that its tags make sense.

Tag rules are those of PDF/UA-1 (ISO 14289-1) and ISO 32000 as recalled from memory: a language, a title, an
alternative text for each figure, headings that skip no level, data cells that know their header cells.
"""

import itertools
import re

import pypdfium2
import pytest

from reports.documents.plan import (
    how_sure,
    plan_html,
    readings_that_matter,
    render_plan,
    sentence_case,
    split_quantity,
)
from tests.reports.documents import samples
from tests.reports.documents.tagged import opened, page_texts, tags, text


def rendered(snapshot):
    return render_plan(snapshot, samples.photo)


def squeezed(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", text(pdf))


@pytest.fixture(scope="module")
def typical():
    return rendered(samples.typical())


@pytest.fixture(scope="module")
def pictured():
    return rendered(samples.with_photos(3))


ALL = {
    "typical": samples.typical,
    "unsure": samples.unsure,
    "bare": samples.bare,
    "hostile": samples.hostile,
    "photos": lambda: samples.with_photos(3),
    "older": samples.before_cautions_stood_at_steps,
    "days": samples.with_days,
}


@pytest.fixture(scope="module", params=ALL)
def any_plan(request):
    return rendered(ALL[request.param]())


# --- tags -----------------------------------------------------------------------------------------
def test_every_figure_has_an_alternative_text(any_plan):
    assert all(
        str(element.get("/Alt", "")).strip() for tag, element in tags(opened(any_plan.pdf)) if tag == "Figure"
    )


def test_headings_start_at_one_and_skip_no_level(any_plan):
    levels = [int(tag[1]) for tag, _ in tags(opened(any_plan.pdf)) if re.fullmatch("H[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in itertools.pairwise(levels))


def test_a_plan_has_language_title_and_a_tag_tree(any_plan):
    pdf = opened(any_plan.pdf)
    assert str(pdf.Root.Lang) == "en"
    assert "Case 128, plan 2" in str(pdf.docinfo["/Title"])
    assert any(tag == "H1" for tag, _ in tags(pdf))


def test_data_cells_know_their_headers_and_the_table_its_caption(typical):
    pdf = opened(typical.pdf)
    found = list(tags(pdf))
    ids = {str(element.ID) for tag, element in found if tag == "TH"}
    cells = [element for tag, element in found if tag == "TD"]
    assert len(cells) == 4 * len(samples.TYPICAL["readings"])
    for cell in cells:
        headers = {str(header) for header in cell.A.Headers}
        assert headers and headers <= ids
    assert [tag for tag, _ in found].count("Caption") == 1


def test_header_cells_carry_their_scope_in_the_page():
    html = plan_html(samples.typical())
    assert html.count('<th scope="col">') == 5
    assert html.count('<th scope="row">') == len(samples.TYPICAL["readings"])


def test_the_plot_says_each_of_its_readings_in_its_alternative_text(typical):
    alternatives = [str(element.Alt) for tag, element in tags(opened(typical.pdf)) if tag == "Figure"]
    (plot,) = (said for said in alternatives if said.startswith("Readings on their bands."))
    assert "Root-zone pH: 7.4 pH, above, comfortable 5.5 to 6.3." in plot
    assert "Relative humidity by day: 45 %, below, comfortable 55 to 75." in plot
    assert "How sure we are: likely, 7 in 10" in alternatives


# --- what it says ---------------------------------------------------------------------------------
def test_a_typical_plan_takes_two_to_four_pages_and_draws_every_letter(typical):
    assert 2 <= typical.pages <= 4
    assert len(page_texts(typical.pdf)) == typical.pages
    assert typical.undrawn == 0


def test_what_to_do_today_comes_first_then_the_week_then_why_then_the_working(typical):
    said = squeezed(typical.pdf)
    order = [
        "Fernhollow Growing Supply", "17 March 2026", "We think it is", "When to stop and call us",
        "Do these today",
        "every 4 days, 1.2 litres for each pot",
        "This week", "Later", "What we saw", "What we think", "Your readings",
        "The next check", "What better looks like", "How we worked it out",
    ]  # fmt: skip
    places = [said.index(part) for part in order]
    assert places == sorted(places)


def test_the_first_page_holds_all_that_is_to_be_done_today(typical):
    first = re.sub(r"\s+", " ", page_texts(typical.pdf)[0])
    for action in samples.TYPICAL["actions"][:3]:
        assert action["text"] in first
        assert action["quantity"] in first


def test_a_cause_comes_with_word_number_reasons_and_the_cost_of_being_wrong(typical):
    said = squeezed(typical.pdf)
    assert "likely, 7 in 10" in said
    assert "Speaks for it:" in said and "You water every day." in said
    assert "Speaks against it:" in said and "The dissolved oxygen you measured is not very low." in said
    assert "We could be wrong: if the pots were dry after all" in said
    assert "71" not in said


def test_the_words_of_the_snapshot_for_a_chance_are_printed_as_they_are():
    cause = {"word": "almost certain", "chance": "more than 9 in 10", "in_ten": 9}
    assert how_sure(cause) == "almost certain, more than 9 in 10"


@pytest.mark.parametrize(
    ("in_ten", "said"), [(0, "less than 1 in 10"), (7, "7 in 10"), (10, "more than 9 in 10")]
)
def test_a_likelihood_is_never_none_and_never_certain(in_ten, said):
    assert how_sure({"word": "likely", "in_ten": in_ten}) == f"likely, {said}"


def test_each_action_says_when_to_stop_right_under_itself(typical):
    said = squeezed(typical.pdf)
    step = said.index("Stop watering until the pot feels light.")
    halt = said.index("Stop and call: The plants hang and the pots are light: water at once and call us.")
    assert step < halt < said.index("Lower the pH of the next feed.")


def first_page(snapshot):
    return re.sub(r"\s+", " ", page_texts(rendered(snapshot).pdf)[0])


def test_under_the_title_stands_what_we_think_it_is(typical):
    said = squeezed(typical.pdf)
    finding = "We think it is: Overwatering (likely, 7 in 10); Root-zone pH too high (possible, 4 in 10)."
    assert said.index("Plan for Ana Lindqvist") < said.index(finding) < said.index("Do these today")


def test_who_cannot_tell_says_so_under_the_title_and_names_the_nearest():
    snapshot = {**samples.typical(), "enough_to_tell": False}
    first = first_page(snapshot)
    assert (
        "We cannot tell yet what is wrong, and would rather say so. "
        "The nearest so far: Overwatering (likely, 7 in 10);" in first
    )
    assert "We think it is" not in first


def test_a_picture_that_fits_nothing_is_not_called_a_finding():
    first = first_page({**samples.typical(), "fit": "fits-nothing-known"})
    assert "It fits none of the causes we know well. The nearest: Overwatering" in first
    assert "We think it is" not in first


def test_opening_words_and_when_to_call_stand_on_page_one_before_any_step_however_much_there_is():
    snapshot = samples.many_actions(40)
    snapshot["plan"]["greeting"] += " Peppers are patient." * 40
    first = first_page(snapshot)
    today = first.index("Do these today")
    for part in ("When to stop and call us", "01632 960 145", "Dear Ana", "Mia Okafor, Fernhollow"):
        assert first.index(part) < today
    snapshot["plan"]["greeting"] += " Peppers are patient." * 400
    first = first_page(snapshot)
    assert "When to stop and call us" in first


def test_a_caution_stands_at_its_step_in_full_once_and_then_points_back():
    pages = page_texts(rendered(samples.many_actions(12)).pdf)
    said = re.sub(r"\s+", " ", " ".join(pages))
    step = said.index("Step 2: Lower the pH")
    assert step < said.index(f"Caution: {samples.ACID}") < said.index("Step 3: Empty the saucers")
    assert said.count(samples.ACID) == said.count(samples.PLUG) == 1
    # Three of today's steps lower the pH, first the second; the ninth is the first to raise the lamp.
    assert said.count("Caution as in step 2.") == 2
    assert said.count("Caution as in step 9.") == 1
    assert "9. Step 4: Raise the lamp." in said
    assert "Read the caution" not in said


def test_a_step_with_old_and_new_cautions_tells_the_new_and_points_to_the_old():
    snapshot = samples.typical()
    snapshot["actions"][3]["cautions"] = [samples.ACID, samples.PLUG]
    said = squeezed(rendered(snapshot).pdf)
    assert f"Caution: {samples.PLUG} Caution as in step 2." in said


def test_a_plan_whose_steps_know_no_cautions_gathers_them_and_says_on_which_page():
    pages = page_texts(rendered(samples.before_cautions_stood_at_steps()).pdf)
    (found,) = (number for number, page in enumerate(pages, 1) if samples.PLUG[:30] in page)
    assert found > 1
    assert f"Read the caution on page {found} first" in re.sub(r"\s+", " ", pages[0])


def test_only_cautions_that_stand_at_no_step_are_gathered():
    snapshot = samples.typical()
    snapshot["cautions"] = [*snapshot["cautions"], "Lids fall."]
    said = squeezed(rendered(snapshot).pdf)
    assert "Read the caution on page 1 first" in said
    assert said.count("Lids fall.") == 1
    assert said.count(samples.ACID) == 1


def test_a_step_without_a_reason_to_stop_prints_none():
    snapshot = samples.typical()
    for action in snapshot["actions"]:
        action["stop_when"] = ""
    assert "Stop and call:" not in squeezed(rendered(snapshot).pdf)


def test_better_comes_soonest_first_and_says_nothing_twice():
    snapshot = samples.typical()
    snapshot["better"] = [
        {"text": "New leaves are green.", "days": 21, "by": "4 April 2026"},
        {"text": "Pots get lighter.", "days": 7, "by": "21 March 2026"},
        {"text": "New leaves are green.", "days": 10, "by": "24 March 2026"},
    ]
    said = squeezed(rendered(snapshot).pdf)
    soon, late = "By 21 March 2026: Pots get lighter.", "By 24 March 2026: New leaves are green."
    assert said.index(soon) < said.index(late)
    assert said.count("New leaves are green.") == 1
    assert "4 April 2026" not in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_last_page_of_a_typical_plan_never_holds_just_the_end_of_the_working(paper):
    snapshot = samples.typical()
    snapshot["shop"]["paper"] = paper
    last = page_texts(rendered(snapshot).pdf)[-1]
    assert "How we worked it out" in last
    assert "Labels, local rules and licensed trades" in last


# No smaller than the small print of labels and leaflets: judgement, no source.
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_words_in_figures_are_at_least_seven_and_a_half_points_on_paper(paper):
    snapshot = samples.typical()
    snapshot["shop"]["paper"] = paper
    plot = re.search(r"<svg[^>]*fig-bands.*?</svg>", plan_html(snapshot), re.DOTALL).group()
    drawn_wide = float(re.search(r'viewBox="0 0 ([\d.]+) ', plot).group(1))
    smallest = min(float(size) for size in re.findall(r'font-size="([\d.]+)"', plot))
    (box,) = (
        [float(edge) for edge in element.A.BBox]
        for tag, element in tags(opened(rendered(snapshot).pdf))
        if tag == "Figure" and str(element.Alt).startswith("Readings on their bands")
    )
    assert smallest * (box[2] - box[0]) / drawn_wide >= 7.5


@pytest.mark.parametrize(
    ("quantity", "parts"),
    [
        ("every 4 days, 1.2 litres for each pot", ("every 4 days, 1.2 litres for each pot", "")),
        (
            "about every 6 days, when the pot is 1120 grams lighter than just after watering",
            ("about every 6 days,", "when the pot is 1120 grams lighter than just after watering"),
        ),
        (
            "for now, not before Monday, 2,5 litres through each pot; then measure again",
            ("for now, not before Monday, 2,5 litres through each pot;", "then measure again"),
        ),
        (
            "16 hours of light a day by timer (still short of what the crop wants)",
            ("16 hours of light a day by timer", "(still short of what the crop wants)"),
        ),
        ("", ("", "")),
    ],
)
def test_a_long_quantity_is_parted_after_its_number_and_loses_no_word(quantity, parts):
    assert split_quantity(quantity) == parts
    assert " ".join(parts).split() == quantity.split()


@pytest.mark.parametrize(
    ("said", "printed"),
    [("the pot is heavy", "The pot is heavy"), ("pH above", "pH above"), ("EC low", "EC low"), ("", "")],
)
def test_lists_begin_with_a_capital_unless_the_word_has_its_own(said, printed):
    assert sentence_case(said) == printed


# --- which readings are drawn ---------------------------------------------------------------------
def names(snapshot):
    return [reading["name"] for reading in readings_that_matter(snapshot)]


def test_readings_outside_their_band_are_drawn_first_then_those_the_reasons_speak_of():
    snapshot = samples.typical()
    snapshot["causes"][0]["against"] = ["not so: it is warm (27 °C)", "not so: feed EC above the band (1.8)"]
    assert names(snapshot) == [
        "Root-zone pH", "Relative humidity by day", "Vapour pressure deficit of the air (VPD)",
        "Feed EC", "Air temperature by day",
    ]  # fmt: skip


def test_a_number_inside_another_number_is_not_spoken_of():
    snapshot = samples.typical()
    snapshot["causes"][0]["against"] = ["not so: it is warm (127 °C)"]
    assert "Air temperature by day" not in names(snapshot)


def test_at_most_nine_readings_are_drawn_and_the_plan_points_to_the_rest():
    snapshot = samples.typical()
    snapshot["readings"] = [{**snapshot["readings"][0], "name": f"Reading {n}"} for n in range(12)]
    assert names(snapshot) == [f"Reading {n}" for n in range(9)]
    said = squeezed(rendered(snapshot).pdf)
    assert "The table at the end has every reading." in said
    assert "No other reading lies outside" not in said
    assert said.count("Reading 11") == 1


def test_cautions_reasons_to_stop_sources_and_the_day_of_better_are_there(typical):
    said = squeezed(typical.pdf)
    assert "Caution" in said
    for caution in samples.TYPICAL["cautions"]:
        assert caution in said
    for part in (
        "Runoff falls below pH 5.2.",
        "common practice, no source",
        "By 21 March 2026",
        "0a1b2c3d4e5f",
    ):
        assert part in said


def test_every_page_says_its_number_the_plan_and_the_phone(typical):
    for number, page in enumerate(page_texts(typical.pdf), start=1):
        assert f"Page {number} of {typical.pages}" in page
        assert "Case 128, plan 2" in page
        assert "01632 960 145" in page


def test_a_draft_says_so_on_every_page_and_an_issued_plan_nowhere(typical):
    snapshot = samples.typical()
    snapshot["plan"]["draft"] = True
    assert all(page.count("DRAFT") >= 2 for page in page_texts(rendered(snapshot).pdf))
    assert "DRAFT" not in text(typical.pdf)


def test_a_plan_says_which_one_it_replaces(typical):
    assert "replaces plan 1" in text(typical.pdf)


def test_when_nothing_can_be_told_the_plan_says_so_and_what_to_bring():
    said = squeezed(rendered(samples.unsure()).pdf)
    assert "We cannot tell yet" in said
    assert "Please bring along" in said
    assert "Look at the roots" in said
    assert "Nothing has to be done today" not in said


def test_a_calm_plan_says_that_nothing_has_to_be_done():
    snapshot = samples.typical()
    snapshot["actions"] = []
    assert "Nothing has to be done today" in squeezed(rendered(snapshot).pdf)


@pytest.mark.parametrize("name", ALL)
def test_the_renderer_has_nothing_to_complain_of(caplog, name):
    with caplog.at_level("ERROR", logger="weasyprint"):
        rendered(ALL[name]())
    assert caplog.messages == []


def test_an_empty_snapshot_still_makes_one_clean_page():
    made = rendered(samples.bare())
    assert made.pages == 1
    assert "Your plan" in text(made.pdf)


def test_forty_actions_are_all_there_and_numbered():
    said = squeezed(rendered(samples.many_actions(40)).pdf)
    assert all(f"Step {number}:" in said for number in range(1, 41))


# --- photos, paper, bytes -------------------------------------------------------------------------
def test_photos_stand_two_in_a_row_with_their_captions(pictured):
    said = squeezed(pictured.pdf)
    assert "Leaf 1 from above" in said and "Leaf 2 from above" in said
    boxes = [
        [float(edge) for edge in element.A.BBox]
        for tag, element in tags(opened(pictured.pdf))
        if tag == "Figure" and str(element.Alt).startswith(("Leaf", "Photo"))
    ]
    assert len(boxes) == 3
    assert boxes[0][1] == boxes[1][1] and boxes[0][0] < boxes[1][0]
    assert boxes[2][1] != boxes[0][1] and boxes[2][0] == boxes[0][0]


def test_a_photo_without_a_caption_is_still_named(pictured):
    assert any(
        str(element.Alt) == "Photo 3 of the plants"
        for tag, element in tags(opened(pictured.pdf))
        if tag == "Figure"
    )


def test_twenty_photos_fit_and_stay_small_enough_to_mail():
    made = rendered(samples.with_photos(20))
    figures = [str(e.Alt) for tag, e in tags(opened(made.pdf)) if tag == "Figure"]
    assert sum(alt.startswith(("Leaf", "Photo")) for alt in figures) == 20
    assert len(made.pdf) < 5_000_000


# ISO 216 and ANSI/ASME Y14.1: A4 is 210 × 297 mm, Letter 8.5 × 11 inches; a point is 1/72 inch.
@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (595.28, 841.89)), ("Letter", (612, 792)), ("?", (595.28, 841.89))]
)
def test_the_paper_is_the_shop_s(paper, size):
    snapshot = samples.typical()
    snapshot["shop"]["paper"] = paper
    for page in opened(rendered(snapshot).pdf).pages:
        left, bottom, right, top = (float(edge) for edge in page.mediabox)
        assert (right - left, top - bottom) == pytest.approx(size, abs=0.5)


def test_the_same_snapshot_gives_the_same_bytes(pictured):
    assert rendered(samples.with_photos(3)).pdf == pictured.pdf


def test_what_fetching_a_photo_raises_reaches_the_caller():
    def lost(number: int) -> bytes:
        raise FileNotFoundError(number)

    with pytest.raises(FileNotFoundError):
        render_plan(samples.with_photos(1), lost)


# --- hostile text ---------------------------------------------------------------------------------
def test_markup_in_any_text_is_printed_and_never_obeyed():
    snapshot = samples.hostile()
    html = plan_html(snapshot)
    for tag in ("<script", "<b>", "<u>", "<i>", "<svg onload", 'http://127.0.0.1:1/x">'):
        assert tag not in html
    said = squeezed(rendered(snapshot).pdf)
    assert "<script>alert(1)</script>" in said
    assert "<b>Fernhollow</b> & Söhne" in said


def test_markup_in_every_single_text_of_a_snapshot_is_escaped():
    def spoiled(value):
        if isinstance(value, dict):
            return {key: spoiled(item) for key, item in value.items()}
        if isinstance(value, list):
            return [spoiled(item) for item in value]
        return "<xmp-hole>" if isinstance(value, str) and value not in kept else value

    kept = {"en", "today", "this-week", "later", "A4", "fits", "above", "below", "inside", "no-band"}
    snapshot = spoiled(samples.with_photos(2))
    html = plan_html(snapshot)
    assert "<xmp-hole" not in html
    assert html.count("&lt;xmp-hole&gt;") > 60


def test_letters_without_a_font_are_counted():
    snapshot = samples.typical()
    snapshot["case"]["story"] = "\U000f1234" * 5
    assert rendered(snapshot).undrawn == 5


def test_boxes_and_columns_of_any_length_lose_nothing():
    snapshot = samples.typical()
    long = " word" * 40
    snapshot["cautions"] = [f"Caution{n}.{long}" for n in range(30)]
    snapshot["causes"][0]["for"] = [f"For{n}.{long}" for n in range(40)]
    snapshot["causes"][0]["against"] = [f"Against{n}.{long}" for n in range(50)]
    snapshot["causes"][1]["for"] = [f"Also{n}. word" for n in range(80)]
    snapshot["better"] = [{"text": f"Better{n}.{long}", "days": 7, "by": "May"} for n in range(40)]
    snapshot["seen"] = [{"code": "x", "text": f"Seen{n}.{long}"} for n in range(60)]
    said = text(rendered(snapshot).pdf)
    for word, count in {
        "Caution": 30,
        "For": 40,
        "Against": 50,
        "Also": 80,
        "Better": 40,
        "Seen": 60,
    }.items():
        assert [n for n in range(count) if f"{word}{n}." not in said] == []


def test_nothing_leaves_the_page_to_the_side():
    document = pypdfium2.PdfDocument(rendered(samples.hostile()).pdf)
    for page in document:
        part = page.get_textpage()
        width, _ = page.get_size()
        for index in range(part.count_rects()):
            left, _, right, _ = part.get_rect(index)
            assert left >= 50 and right <= width - 50
        part.close()
        page.close()
    document.close()


def test_no_heading_stands_alone_at_the_foot_of_a_page():
    headings = {"This week", "Later", "What we saw", "Your readings on their bands", "How we worked it out"}
    for count in range(3, 22, 3):
        for page in page_texts(rendered(samples.many_actions(count)).pdf):
            body = [
                line
                for line in page.split("\n")
                if line and not re.match("Case 128, plan 2$|Page |Fernhollow.*960", line)
            ]
            assert body[-1].strip() not in headings
