"""The profile figure: valid SVG with a name, verdicts in words, every bar inside the frame."""

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.figures.profile import ProfileLabels, ProfileRow, describe_profile, nearness, profile_figure

SVG = "{http://www.w3.org/2000/svg}"
LABELS = ProfileLabels("short", "near", "over", "no target", "target")


@pytest.mark.parametrize(
    ("reached", "target", "verdict"),
    [(90, 100, "near"), (89, 100, "short"), (111, 100, "over"), (5, None, "no-target"), (5, 0, "no-target")],
)
def test_nearness_is_told_by_a_tenth(reached, target, verdict):
    assert nearness(reached, target) == verdict


def test_the_figure_says_in_words_what_it_shows():
    rows = [ProfileRow("Nitrogen", 150, 200, "150 of 200 mg/L"), ProfileRow("Sodium", 20, None, "20 mg/L")]
    assert describe_profile(rows, LABELS) == "Nitrogen: 150 of 200 mg/L, short. Sodium: 20 mg/L, no target."
    root = ET.fromstring(profile_figure(rows, title="Feed", labels=LABELS))
    assert root.find(f"{SVG}title").text == "Feed"
    assert root.find(f"{SVG}desc").text == describe_profile(rows, LABELS)
    assert root.get("role") == "img"


def test_a_bar_beyond_twice_the_target_ends_with_an_arrow():
    figure = profile_figure([ProfileRow("Boron", 3, 0.5, "3")], title="Feed", labels=LABELS)
    assert "fig-beyond" in figure
    assert "fig-over" in figure


rows = st.builds(ProfileRow, st.text(max_size=40), st.floats(), st.none() | st.floats(), st.text(max_size=60))


@given(st.lists(rows, max_size=6), st.text(max_size=30))
def test_any_row_draws_inside_the_frame_without_style_or_script(drawn, title):
    figure = profile_figure(drawn, title=title, labels=LABELS)
    root = ET.fromstring(figure)
    width, height = (float(edge) for edge in root.get("viewBox").split()[2:])
    for bar in root.iter(f"{SVG}rect"):
        assert float(bar.get("x")) >= 0
        assert float(bar.get("x")) + float(bar.get("width")) <= width
        assert float(bar.get("y")) + float(bar.get("height")) <= height
    assert all("style" not in element.attrib for element in root.iter())
    assert not list(root.iter(f"{SVG}script"))
