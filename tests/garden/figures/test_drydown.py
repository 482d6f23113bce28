"""The dry-down curve: sound SVG, the curve from full to dry, and the day on which to water."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.watering import dry_down
from garden.figures.drydown import DrydownLabels, drydown_figure
from tests.garden.figures.test_figures import HOSTILE, SVG, assert_sound, classes, extent, texts

LABELS = DrydownLabels("Water left, L", "Days", "water now", "today")
curves = st.lists(st.tuples(st.floats(), st.floats()), max_size=12)


def draw(curve, level=0.75, **more):
    return drydown_figure(curve, level, title="t", desc="d", labels=LABELS, **more)


@given(curves, st.none() | st.floats(), st.none() | st.tuples(st.floats(), st.floats()))
def test_the_curve_stays_inside_its_frame_whatever_the_numbers(curve, level, now):
    assert_sound(draw(curve, level, now=now))


@given(st.floats(1e-12, 1e12), st.floats(1e-12, 1e12))
def test_small_and_large_pots_have_a_handful_of_ticks(days, litres):
    root = assert_sound(draw([(0, litres), (days, litres / 2)], litres / 2))
    assert 4 <= len(classes(root, "fig-tick")) <= 16


def test_hostile_words_come_out_as_words():
    labels = DrydownLabels(*[HOSTILE] * 4)
    svg = drydown_figure([(0, 1), (1, 0)], 0.5, title=HOSTILE, desc=HOSTILE, labels=labels, now=(0.2, 0.8))
    assert_sound(svg)
    assert "<script" not in svg


def test_the_mark_stands_on_the_curve_on_the_day_to_water():
    # 1.5 L, a quarter litre a day: half is gone after three days of nine.
    root = assert_sound(draw(dry_down(1.5, 0.25, 9), 0.75))
    (mark,), (level,) = classes(root, "fig-mark"), classes(root, "fig-level")
    left, right = float(level.attrib["x1"]), float(level.attrib["x2"])
    assert float(mark.attrib["cx"]) == pytest.approx(left + (right - left) / 3, abs=0.5)
    assert float(mark.attrib["cy"]) == pytest.approx(float(level.attrib["y1"]))


def test_the_curve_runs_downhill_from_full():
    (curve,) = classes(assert_sound(draw(dry_down(1.5, 0.25, 9), 0.75)), "fig-curve")
    points = extent(curve)
    assert points == sorted(points)
    assert [y for _, y in points] == sorted(y for _, y in points)


def test_a_level_the_curve_never_reaches_has_no_mark():
    root = assert_sound(draw([(0, 1.5), (2, 1.0)], 0.5))
    assert not classes(root, "fig-mark")
    assert classes(root, "fig-level")


def test_the_pot_of_today_is_a_diamond_with_its_word():
    root = assert_sound(draw([(0, 1.5), (9, 0)], 0.75, now=(1, 1.2)))
    (diamond,) = classes(root, "fig-ghost")
    assert diamond.tag == f"{SVG}polygon"
    assert {"today", "water now", "Days", "Water left, L"} <= set(texts(root))
