"""The light map as a picture: sound SVG, numbers in cells, shades that rank, words that say it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.light_map import Lamp, light_map
from garden.figures.light_map import LightMapLabels, describe_light_map, light_map_figure
from tests.garden.figures.test_figures import HOSTILE, SVG, assert_sound, classes, texts

LABELS = LightMapLabels("mean", "lowest", "highest", "evenness", "lamp", "µmol/m²/s")
grids = st.integers(0, 14).flatmap(
    lambda columns: st.lists(st.lists(st.floats(), min_size=columns, max_size=columns), max_size=14)
)


def draw(ppfd, length_m=1.0, width_m=1.0, **more):
    return light_map_figure(ppfd, length_m, width_m, title="t", labels=LABELS, **more)


def cells(root):
    shades = [f"fig-light-{shade}" for shade in range(1, 6)]
    found = [element for shade in shades for element in classes(root, shade)]
    return [element for element in found if float(element.attrib["width"]) != 16]


@given(grids, st.floats(), st.floats(), st.lists(st.tuples(st.floats(), st.floats()), max_size=4))
def test_the_map_stays_inside_its_frame_whatever_the_numbers(ppfd, length_m, width_m, lamps):
    assert_sound(draw(ppfd, length_m, width_m, lamps=lamps))


def test_hostile_words_come_out_as_words():
    labels = LightMapLabels(*[HOSTILE] * 6)
    svg = light_map_figure([[1, 2]], 1, 1, title=HOSTILE, labels=labels, lamps=[(0.5, 0.5)])
    assert_sound(svg)
    assert "<script" not in svg


def test_each_cell_carries_its_number_and_brighter_cells_a_fuller_shade():
    root = assert_sound(draw([[100, 200], [300, 500]]))
    assert {"100", "200", "300", "500"} <= set(texts(root))
    assert len(cells(root)) == 4
    assert len([cell for cell in cells(root) if cell.get("class") == "fig-light-5"]) == 1
    assert len([cell for cell in cells(root) if cell.get("class") == "fig-light-1"]) == 1


def test_a_fine_map_is_drawn_in_at_most_ten_by_ten_cells_that_fill_the_canopy():
    root = assert_sound(draw([[100.0] * 25 for _ in range(33)]))
    assert len(cells(root)) == 100
    area = sum(float(cell.attrib["width"]) * float(cell.attrib["height"]) for cell in cells(root))
    (edge,) = classes(root, "fig-edge")
    assert area == pytest.approx(float(edge.attrib["width"]) * float(edge.attrib["height"]), rel=0.001)


def test_the_canopy_is_drawn_to_scale():
    (edge,) = classes(assert_sound(draw([[1, 2]], 2.4, 1.2)), "fig-edge")
    assert float(edge.attrib["width"]) == pytest.approx(2 * float(edge.attrib["height"]))


def test_lamps_over_the_canopy_are_rings_where_they_hang():
    root = assert_sound(draw([[1, 2]], lamps=[(0.25, 0.5), (3, 3)]))
    rings = [ring for ring in classes(root, "fig-lamp") if ring.get("r") == "9"]
    (edge,) = classes(root, "fig-edge")
    assert len(rings) == 1
    at = float(edge.attrib["x"]) + 0.25 * float(edge.attrib["width"])
    assert float(rings[0].attrib["cx"]) == pytest.approx(at, abs=0.01)
    assert "lamp" in texts(root)


def test_the_description_says_the_numbers_in_words():
    said = describe_light_map([[100, 200], [300, 400]], LABELS)
    assert said == "lowest 100, mean 250, highest 400 µmol/m²/s; evenness 40 %."
    assert assert_sound(draw([[100, 200], [300, 400]])).find(f"{SVG}desc").text == said
    assert describe_light_map([], LABELS) == ""


def test_the_description_agrees_with_the_calculation():
    found = light_map([Lamp(0.5, 0.5, 0.4, 300)], 1, 1)
    said = describe_light_map(found.ppfd_umol_m2_s.tolist(), LABELS)
    assert f"mean {found.mean_umol_m2_s:.0f}" in said
    assert f"evenness {100 * found.evenness:.0f} %" in said


def test_an_even_canopy_needs_no_legend_of_shades():
    root = assert_sound(draw([[200, 200], [200, 201]]))
    assert {cell.get("class") for cell in cells(root)} == {"fig-light-5"}
    assert not [text for text in texts(root) if "–" in text]
