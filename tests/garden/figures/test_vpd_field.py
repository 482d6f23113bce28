"""The field of temperature and humidity: sound SVG, band and point where the air says they are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.air import rh_for_vpd_percent
from garden.figures.vpd_field import VpdBand, VpdLabels, vpd_field
from tests.garden.figures.test_figures import HOSTILE, SVG, assert_sound, classes, extent, texts

LABELS = VpdLabels(
    "Air, °C", "Humidity, %", "comfortable", "tolerated", "here", "too dry", "too damp", "fits"
)
BAND = VpdBand(0.6, 1.1, 0.4, 1.4)
anything = st.none() | st.floats()


def draw(temp_c=24.0, rh=70.0, band=BAND, **more):
    return vpd_field(temp_c, rh, band, title="t", desc="d", labels=LABELS, **more)


@given(anything, anything, st.none() | st.builds(VpdBand, st.floats(), st.floats(), anything, anything))
def test_the_field_stays_inside_its_frame_whatever_the_numbers(temp_c, rh, band):
    assert_sound(draw(temp_c, rh, band))


def test_hostile_words_come_out_as_words():
    svg = vpd_field(24, 70, BAND, title=HOSTILE, desc=HOSTILE, labels=VpdLabels(*[HOSTILE] * 8))
    assert_sound(svg)
    assert "<script" not in svg


@pytest.mark.parametrize(
    ("temp_c", "rh", "mark"), [(24, 70, "fig-inside"), (28, 40, "fig-above"), (18, 95, "fig-below")]
)
def test_the_mark_tells_by_its_shape_whether_the_air_is_too_dry_or_too_damp(temp_c, rh, mark):
    (found,) = classes(assert_sound(draw(temp_c, rh)), "fig-mark")
    assert mark in found.attrib["class"].split()


def test_a_point_on_the_edge_of_the_band_lies_on_its_outline():
    # 23 °C, halfway between 10 and 36, is a corner of the outline.
    root = assert_sound(draw(23, rh_for_vpd_percent(23, 0.6)))
    (mark,) = classes(root, "fig-mark")
    outline = extent(next(e for e in classes(root, "fig-narrow") if e.tag == f"{SVG}polygon"))
    assert mark.tag == f"{SVG}circle"
    here = (float(mark.attrib["cx"]), float(mark.attrib["cy"]))
    assert min(abs(x - here[0]) + abs(y - here[1]) for x, y in outline) < 0.05


def test_the_same_air_stands_in_the_same_place_whatever_the_degrees_along_the_edge():
    celsius, fahrenheit = assert_sound(draw()), assert_sound(draw(fahrenheit=True))
    (one,), (other,) = classes(celsius, "fig-mark"), classes(fahrenheit, "fig-mark")
    assert one.attrib == other.attrib
    # 10 °C is 50 °F by definition, and both stand at the left edge.
    (ten,) = [text for text in celsius.iter(f"{SVG}text") if text.text == "10"]
    (fifty,) = [text for text in fahrenheit.iter(f"{SVG}text") if text.text == "50"]
    assert ten.attrib["x"] == fifty.attrib["x"]
    assert "35" not in texts(fahrenheit)


def test_the_comfortable_area_lies_in_the_tolerated_one():
    root = assert_sound(draw())
    narrow, wide = (
        extent(next(e for e in classes(root, name) if e.tag == f"{SVG}polygon"))
        for name in ("fig-narrow", "fig-wide")
    )
    assert min(y for _, y in wide) < min(y for _, y in narrow)
    assert len(narrow) == len(wide)


def test_without_air_there_is_no_mark_and_without_a_band_no_area():
    assert not classes(assert_sound(draw(None, 70)), "fig-mark")
    assert not classes(assert_sound(draw(24, 70, None)), "fig-narrow")


def test_the_words_and_the_lines_are_named():
    said = texts(assert_sound(draw()))
    for word in ("Air, °C", "Humidity, %", "comfortable", "tolerated", "here", "0.8 kPa", "1.2 kPa"):
        assert word in said
    assert any("too dry" in text and "too damp" in text for text in said)
