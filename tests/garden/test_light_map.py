"""The light map against geometry: inverse square and cosine, closed forms of textbooks, and conservation."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.agronomy.light_map import Lamp, lamp_rows, light_map

lamps = st.builds(
    Lamp,
    x_m=st.floats(0, 1),
    y_m=st.floats(0, 1),
    height_m=st.floats(0.02, 3),
    flux_umol_s=st.floats(0, 3000),
    length_m=st.sampled_from([0.0, 0.1, 1.2]) | st.floats(0, 2),
    width_m=st.sampled_from([0.0, 0.1, 0.6]),
    turn_deg=st.floats(-180, 180),
    beam_deg=st.sampled_from([120.0]) | st.floats(10, 150),
)


@given(st.floats(0.2, 3), st.floats(1, 3000))
def test_under_one_small_lamp_the_light_is_that_of_the_inverse_square(height_m, flux):
    # A Lambertian source of flux F has the intensity F/π straight down (textbook photometry, from memory).
    found = light_map([Lamp(0.5, 0.5, height_m, flux)], 1, 1, nx=31, ny=31)
    assert found.ppfd_umol_m2_s[15, 15] == pytest.approx(flux / math.pi / height_m**2, rel=1e-6)


def test_twice_the_height_gives_a_quarter_under_a_small_lamp():
    # 600 at 0.50 m becomes 150 at 1.00 m (regression of the inverse square).
    flux = 600 * math.pi * 0.5**2
    light = [
        light_map([Lamp(0.5, 0.5, h, flux)], 1, 1, nx=31, ny=31).ppfd_umol_m2_s[15, 15] for h in (0.5, 1)
    ]
    assert light == pytest.approx([600, 150])


def test_beside_the_lamp_the_light_falls_by_the_fourth_power_of_the_cosine():
    found = light_map([Lamp(0.05, 0.05, 0.5, 100)], 1.1, 1.1, nx=11, ny=11).ppfd_umol_m2_s
    away = math.cos(math.atan(0.5 / 0.5))
    assert found[0, 5] / found[0, 0] == pytest.approx(away**4)


def test_a_bar_agrees_with_the_closed_form_of_a_line_of_light():
    # ∫ du/(u²+b²)² = u/(2b²(u²+b²)) + atan(u/b)/(2b³): tables of integrals (from memory).
    flux, length, height = 400.0, 1.2, 0.3
    half = length / 2
    line = half / (height**2 * (half**2 + height**2)) + math.atan(half / height) / height**3
    expected = flux / length * height**2 / math.pi * line
    found = light_map([Lamp(1, 1, height, flux, length_m=length)], 2, 2, nx=41, ny=41)
    assert found.ppfd_umol_m2_s[20, 20] == pytest.approx(expected, rel=0.01)


def test_a_panel_agrees_with_the_published_view_factor_of_a_rectangle():
    # View factor of a parallel rectangle seen from under its corner, four of them for the middle (textbooks
    # of heat transfer, from memory): F = (a/√(1+a²) atan(b/√(1+a²)) + b/√(1+b²) atan(a/√(1+b²))) / 2π.
    flux, length, width, height = 900.0, 1.0, 0.6, 0.3
    a, b = length / 2 / height, width / 2 / height
    along, across = math.sqrt(1 + a * a), math.sqrt(1 + b * b)
    factor = 4 * (a / along * math.atan(b / along) + b / across * math.atan(a / across)) / (2 * math.pi)
    found = light_map([Lamp(1, 1, height, flux, length, width)], 2, 2, nx=41, ny=41)
    assert found.ppfd_umol_m2_s[20, 20] == pytest.approx(flux / (length * width) * factor, rel=0.01)


@given(st.sampled_from([30.0, 60.0, 90.0, 120.0, 140.0]))
def test_a_beam_has_half_its_intensity_at_half_its_angle(beam):
    away = math.tan(math.radians(beam / 2)) * 0.5
    # Cells so small that their middles stand for the points; the cosine of the canopy and the longer way.
    lamp = Lamp(0.01, 0.5, 0.5, 100, beam_deg=beam)
    found = light_map([lamp], 4, 1, nx=200, ny=51).ppfd_umol_m2_s[25]
    there = np.interp(0.01 + away, (np.arange(200) + 0.5) * 0.02, found)
    assert there / found[0] == pytest.approx(0.5 * math.cos(math.radians(beam / 2)) ** 3, rel=0.02)


@settings(deadline=None, max_examples=60)
@given(st.lists(lamps, min_size=1, max_size=4), st.floats(0, 0.95), st.integers(2, 40), st.integers(2, 40))
def test_never_more_photons_land_than_the_lamps_give(several, reflectance, nx, ny):
    found = light_map(several, 1, 1, wall_reflectance=reflectance, nx=nx, ny=ny)
    given_photons = sum(lamp.flux_umol_s for lamp in several)
    assert found.mean_umol_m2_s * 1.0 <= given_photons * (1 + 1e-9)
    assert np.isfinite(found.ppfd_umol_m2_s).all()
    assert (found.ppfd_umol_m2_s >= 0).all()
    assert 0 <= found.evenness <= 1
    assert 0 <= found.utilisation <= 1
    assert found.lowest_umol_m2_s <= found.mean_umol_m2_s * (1 + 1e-9)
    assert found.mean_umol_m2_s <= found.highest_umol_m2_s * (1 + 1e-9)


def test_nearly_all_photons_of_a_low_lamp_land_on_a_wide_canopy():
    # The share outside a circle of radius r is h²/(h²+r²): 1 % for r = 10 h (textbook, from memory).
    found = light_map([Lamp(5, 5, 0.5, 1000)], 10, 10, nx=100, ny=100)
    assert 0.98 < found.utilisation < 1


@settings(deadline=None)
@given(lamps, st.floats(0, 0.85))
def test_brighter_walls_give_more_light_and_no_less_anywhere(lamp, reflectance):
    dark = light_map([lamp], 1, 1, wall_reflectance=reflectance, nx=10, ny=10)
    bright = light_map([lamp], 1, 1, wall_reflectance=reflectance + 0.1, nx=10, ny=10)
    assert bright.mean_umol_m2_s >= dark.mean_umol_m2_s * (1 - 1e-9)


def test_walls_even_out_the_light():
    row = lamp_rows(Lamp(0, 0, 0.4, 300), 1.2, 1.2, 2, 2)
    assert light_map(row, 1.2, 1.2, wall_reflectance=0.8).evenness > light_map(row, 1.2, 1.2).evenness


def test_lamps_add_up_and_a_symmetric_layout_gives_a_symmetric_map():
    row = lamp_rows(Lamp(0, 0, 0.4, 300, length_m=0.5), 2, 1, 3, 2)
    assert len(row) == 6
    together = light_map(row, 2, 1, wall_reflectance=0.5).ppfd_umol_m2_s
    apart = sum(light_map([lamp], 2, 1, wall_reflectance=0.5).ppfd_umol_m2_s for lamp in row)
    assert together == pytest.approx(apart)
    assert together == pytest.approx(together[:, ::-1])
    assert together == pytest.approx(together[::-1, :])


def test_a_turned_bar_lights_the_other_way():
    straight = light_map([Lamp(0.5, 0.5, 0.2, 100, 0.8)], 1, 1).ppfd_umol_m2_s
    turned = light_map([Lamp(0.5, 0.5, 0.2, 100, 0.8, turn_deg=90)], 1, 1).ppfd_umol_m2_s
    assert turned == pytest.approx(straight.T)


def test_a_higher_lamp_is_more_even_and_less_used():
    low, high = (light_map([Lamp(0.5, 0.5, h, 100)], 1, 1) for h in (0.3, 0.6))
    assert high.evenness > low.evenness
    assert high.utilisation < low.utilisation


def test_dark_lamps_give_a_dark_map():
    found = light_map([Lamp(0.5, 0.5, 0.3, 0)], 1, 1)
    assert (found.mean_umol_m2_s, found.evenness, found.utilisation) == (0, 0, 0)


def test_twenty_bars_over_fifty_by_fifty_points_take_moments():
    # The goal is 20 ms on an idle machine; a busy one is given ten times that.
    row = lamp_rows(Lamp(0, 0, 0.3, 300, 1.2), 4, 4, 5, 4)
    taken = []
    for _ in range(5):
        begun = time.perf_counter()
        light_map(row, 4, 4, wall_reflectance=0.7, nx=50, ny=50)
        taken.append(time.perf_counter() - begun)
    assert min(taken) < 0.2


@pytest.mark.parametrize(
    ("lamp", "field"),
    [
        (Lamp(2, 0.5, 0.3, 100), "x_m"),
        (Lamp(0.5, -0.1, 0.3, 100), "y_m"),
        (Lamp(0.5, 0.5, 0, 100), "height_m"),
        (Lamp(0.5, 0.5, 0.3, -1), "flux_umol_s"),
        (Lamp(0.5, 0.5, 0.3, float("nan")), "flux_umol_s"),
        (Lamp(0.5, 0.5, 0.3, 100, 50), "lamp length_m"),
        (Lamp(0.5, 0.5, 0.3, 100, 0, -1), "lamp width_m"),
        (Lamp(0.5, 0.5, 0.3, 100, turn_deg=900), "turn_deg"),
        (Lamp(0.5, 0.5, 0.3, 100, beam_deg=180), "beam_deg"),
    ],
)
def test_an_impossible_lamp_is_refused_by_the_name_of_its_field(lamp, field):
    with pytest.raises(OutOfRange) as caught:
        light_map([lamp], 1, 1)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"length_m": 0}, "length_m"),
        ({"width_m": 500}, "width_m"),
        ({"wall_reflectance": 1}, "wall_reflectance"),
        ({"nx": 1}, "nx"),
        ({"ny": 1000}, "ny"),
    ],
)
def test_an_impossible_room_is_refused_by_the_name_of_its_field(arguments, field):
    with pytest.raises(OutOfRange) as caught:
        light_map([Lamp(0, 0, 0.3, 100)], **{"length_m": 1, "width_m": 1, **arguments})
    assert caught.value.field == field


def test_no_lamps_are_refused():
    with pytest.raises(AgronomyError, match="0 lamps; allowed are 1"):
        light_map([], 1, 1)
