"""The figures: valid SVG with a title and a description, marks inside the frame, nothing hostile let through.

The site's content policy is ours: no style attribute, no script. Accessible names of SVG follow the W3C's
"SVG Accessibility API Mappings": a graphic with role img is named by its title (recalled from memory).
"""

import math
import re
import subprocess
import sys
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.figures import (
    BandLabels,
    BandRow,
    EvidenceLabels,
    EvidenceRow,
    Palette,
    band_figure,
    describe_bands,
    evidence_bars,
    gauge_svg,
    likelihood_bar,
)

SVG = "{http://www.w3.org/2000/svg}"
LABELS = BandLabels("inside", "above", "below", "no band", "comfortable", "tolerated", "last time")
SIDES = EvidenceLabels("speaks for", "speaks against")
PH = BandRow("Root-zone pH", "7.4", "pH", 7.4, 5.5, 6.3, 5.1, 6.9, "5.5 to 6.3", "above")
HOSTILE = "<script>alert(1)</script>&\"'\x00\ud800\ufffe"

anything = st.one_of(st.none(), st.floats())
words = st.text(max_size=60)


def parsed(svg: str) -> ET.Element:
    svg.encode("utf-8")
    return ET.fromstring(svg)


def classes(root: ET.Element, name: str) -> list[ET.Element]:
    return [element for element in root.iter() if name in element.get("class", "").split()]


def texts(root: ET.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def extent(element: ET.Element) -> list[tuple[float, float]]:
    """The corners of a shape, in coordinates of the view box."""
    at = {name: float(value) for name, value in element.attrib.items() if re.fullmatch(r"-?[\d.e+-]+", value)}
    kind = element.tag.removeprefix(SVG)
    if kind == "rect":
        return [(at["x"], at["y"]), (at["x"] + at["width"], at["y"] + at["height"])]
    if kind == "circle":
        return [(at["cx"] - at["r"], at["cy"] - at["r"]), (at["cx"] + at["r"], at["cy"] + at["r"])]
    if kind == "line":
        return [(at["x1"], at["y1"]), (at["x2"], at["y2"])]
    if kind == "polygon":
        return [tuple(map(float, pair.split(","))) for pair in element.attrib["points"].split()]
    if kind == "path":
        return [tuple(map(float, pair.split())) for pair in re.split("[ML]", element.attrib["d"])[1:]]
    return [(at["x"], at["y"])] if kind == "text" else []


def assert_sound(svg: str) -> ET.Element:
    root = parsed(svg)
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert root.get("role") == "img"
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert [root.attrib["aria-labelledby"], root.attrib["aria-describedby"]] == ids
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    for element in root.iter():
        assert "style" not in element.attrib
        assert not any(name.startswith("on") for name in element.attrib)
        assert element.tag.removeprefix(SVG) in {
            "svg", "title", "desc", "rect", "circle", "line", "polygon", "path", "text",
        }  # fmt: skip
        for x, y in extent(element):
            assert math.isfinite(x) and math.isfinite(y)
            assert -0.02 <= x <= width + 0.02
            assert -0.02 <= y <= height + 0.02
    return root


rows = st.builds(
    BandRow, words, words, words, anything, anything, anything, anything, anything, words,
    st.sampled_from(["below", "inside", "above", "no-band"]), anything,
)  # fmt: skip


@given(st.lists(rows, max_size=4), words, st.booleans())
def test_band_figures_stay_inside_their_frame_whatever_the_numbers(rows, title, narrow):
    assert_sound(band_figure(rows, title=title, labels=LABELS, narrow=narrow))


@given(anything, anything, anything, anything, anything, anything)
def test_a_gauge_stays_inside_its_frame_whatever_the_numbers(value, low, high, wide_low, wide_high, previous):
    assert_sound(gauge_svg(value, low, high, wide_low, wide_high, previous, title="t"))


@given(st.floats())
def test_a_likelihood_bar_stays_inside_its_frame_whatever_the_number(probability):
    assert_sound(likelihood_bar(probability, title="t"))


@given(st.lists(st.builds(EvidenceRow, words, st.floats()), max_size=6))
def test_evidence_stays_inside_its_frame_whatever_the_numbers(rows):
    assert_sound(evidence_bars(rows, title="t", labels=SIDES))


def test_hostile_text_comes_out_as_text():
    row = BandRow(HOSTILE, HOSTILE, HOSTILE, 1, 1, 2, 0, 3, HOSTILE, "inside")
    for svg in (
        band_figure([row], title=HOSTILE, labels=LABELS),
        gauge_svg(1, 1, 2, 0, 3, title=HOSTILE, desc=HOSTILE),
        likelihood_bar(0.5, title=HOSTILE),
        evidence_bars([EvidenceRow(HOSTILE, 1)], title=HOSTILE, labels=SIDES),
    ):
        root = assert_sound(svg)
        assert root.find(f"{SVG}title").text == "<script>alert(1)</script>&\"'"
        assert "<script" not in svg


@pytest.mark.parametrize(
    ("value", "kind", "word"),
    [(7.4, "fig-above", "polygon"), (4.0, "fig-below", "polygon"), (6.0, "fig-inside", "circle")],
)
def test_the_shape_of_a_mark_tells_where_the_value_is(value, kind, word):
    (mark,) = classes(assert_sound(gauge_svg(value, 5.5, 6.3, 5.1, 6.9, title="t")), "fig-mark")
    assert kind in mark.attrib["class"].split()
    assert mark.tag == f"{SVG}{word}"


def test_the_mark_above_points_up_and_the_mark_below_points_down():
    def tip(value):
        (mark,) = classes(parsed(gauge_svg(value, 5.5, 6.3, 5.1, 6.9, title="t")), "fig-mark")
        heights = sorted(y for _, y in extent(mark))
        return "up" if heights[1] == heights[2] else "down"

    assert (tip(7.4), tip(4.0)) == ("up", "down")


@pytest.mark.parametrize("narrow", [False, True])
def test_a_row_says_value_verdict_and_band_in_words(narrow):
    said = texts(parsed(band_figure([PH], title="t", labels=LABELS, narrow=narrow)))
    assert "7.4 pH, above" in said
    assert "comfortable 5.5 to 6.3" in said


@pytest.mark.parametrize("narrow", [False, True])
def test_a_verdict_is_never_cut_off(narrow):
    row = BandRow("n", "1.8", "unit" * 30, 1.8, 1, 2, 0, 3, "", "inside")
    said = texts(parsed(band_figure([row], title="t", labels=LABELS, narrow=narrow)))
    assert any(text.endswith("…, inside") for text in said)


def test_a_narrow_figure_is_no_wider_than_a_phone_shows_it():
    root = parsed(band_figure([PH, PH], title="t", labels=LABELS, narrow=True))
    assert float(root.attrib["viewBox"].split()[2]) <= 360


def test_the_description_tells_every_reading():
    other = BandRow("Sodium", "12", "mg/L", 12.0)
    root = parsed(band_figure([PH, other], title="t", labels=LABELS))
    assert root.find(f"{SVG}desc").text == describe_bands([PH, other], LABELS)
    assert describe_bands([PH, other], LABELS) == (
        "Root-zone pH: 7.4 pH, above, comfortable 5.5 to 6.3. Sodium: 12 mg/L, no band."
    )


def test_the_comfortable_area_lies_in_the_tolerated_one_and_the_mark_where_the_value_is():
    root = parsed(gauge_svg(6.3, 5.5, 6.3, 5.1, 6.9, title="t"))
    narrow, wide = (extent(classes(root, name)[0]) for name in ("fig-narrow", "fig-wide"))
    assert wide[0][0] < narrow[0][0] < narrow[1][0] < wide[1][0]
    assert float(classes(root, "fig-mark")[0].attrib["cx"]) == pytest.approx(narrow[1][0], abs=0.01)


def test_the_tolerated_area_is_told_from_the_comfortable_one_by_hatching():
    root = parsed(gauge_svg(6, 5.5, 6.3, 5.1, 6.9, title="t"))
    assert len(classes(root, "fig-hatch")) == 1


def test_an_open_side_reaches_the_end_of_the_strip():
    narrow = extent(classes(parsed(gauge_svg(8, 5, None, 4, None, title="t")), "fig-narrow")[0])
    assert narrow[1][0] == pytest.approx(219)


def test_without_a_band_or_a_value_there_is_no_mark():
    assert not classes(parsed(gauge_svg(5, None, None, None, None, title="t")), "fig-mark")
    assert not classes(parsed(gauge_svg(None, 5, 6, 4, 7, title="t")), "fig-mark")


def test_last_time_is_a_ghost_that_the_legend_explains():
    ghosted = BandRow("n", "6", "pH", 6, 5, 7, 4, 8, "", "inside", previous=4.5)
    root = assert_sound(band_figure([ghosted], title="t", labels=LABELS))
    assert "fig-below" in classes(root, "fig-ghost")[0].attrib["class"]
    assert "last time" in texts(root)
    assert "last time" not in texts(parsed(band_figure([PH], title="t", labels=LABELS)))


def test_ids_differ_from_call_to_call_and_repeat_with_a_key():
    assert likelihood_bar(0.5, title="t") != likelihood_bar(0.5, title="t")
    assert likelihood_bar(0.5, title="t", key="a") == likelihood_bar(0.5, title="t", key="a")


def test_a_likelihood_fills_its_share_of_the_bar():
    root = parsed(likelihood_bar(0.7, title="t"))
    (filled,) = classes(root, "fig-for")
    (track,) = classes(root, "fig-track")
    assert float(filled.attrib["width"]) / float(track.attrib["width"]) == pytest.approx(0.7, abs=0.001)
    assert not classes(parsed(likelihood_bar(0, title="t")), "fig-for")


def test_evidence_leans_to_its_side_longest_first():
    given_rows = [EvidenceRow("weak", 0.5), EvidenceRow("contrary", -1.0), EvidenceRow("strong", 2.0)]
    root = parsed(evidence_bars(given_rows, title="t", labels=SIDES))
    assert [text for text in texts(root) if text in {"weak", "contrary", "strong"}] == [
        "strong", "contrary", "weak",
    ]  # fmt: skip
    strong, weak = (extent(bar) for bar in classes(root, "fig-for"))
    (contrary,) = (extent(bar) for bar in classes(root, "fig-against"))
    assert strong[0][0] == weak[0][0] == contrary[1][0] == 240
    assert strong[1][0] - 240 == pytest.approx(4 * (weak[1][0] - 240))


def test_colours_come_from_the_palette():
    svg = likelihood_bar(0.5, title="t", palette=Palette(leans_for="#123456"))
    assert 'fill="#123456"' in svg


def test_the_figures_need_no_django():
    code = "import sys, garden.figures; sys.exit(any(name.split('.')[0] == 'django' for name in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
