"""Feed and water against published figures. "Regression" values were computed, not read."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from garden.agronomy import feed
from garden.agronomy.errors import OutOfRange, UnitError

volumes = st.floats(0.1, 1000)
strengths = st.floats(0, 10)


@pytest.mark.parametrize(("scale", "shown"), [("500", 1000), ("640", 1280), ("700", 1400)])
def test_a_tds_meter_shows_the_ec_on_its_own_scale(scale, shown):
    # 0.64 read in Irrigation Science 2018; 0.5 and 0.7 are conventions of meters, from memory.
    assert feed.tds_mg_l(2.0, scale) == pytest.approx(shown)
    assert feed.ec_from_tds_ms_cm(shown, scale) == pytest.approx(2.0)


def test_an_unknown_tds_scale_is_refused_with_the_known_ones():
    with pytest.raises(UnitError, match="500, 640, 700"):
        feed.tds_mg_l(2.0, "442")


@pytest.mark.parametrize(
    ("measured", "temp_c", "at_25", "relative"),
    [
        (0.8910, 5, 1.4082, 0.025),  # Wu, Koch and Pratt 1991 (read), 0.01 mol/kg; far from 25 °C
        (1.1415, 15, 1.4082, 0.002),  # the same
        (1.6878, 35, 1.4082, 0.007),  # the same
        (9.292, 10, 12.825, 0.02),  # the same, 0.1 mol/kg
        (11.616, 20, 12.825, 0.005),
        (14.059, 30, 12.825, 0.005),
        (1.147, 15, 1.413, 0.004),  # bottle standard, table in a meter's handbook (read in a copy)
        (1.278, 20, 1.413, 0.004),
        (1.552, 30, 1.413, 0.004),
        (0.07580, 20, 0.084, 0.005),  # bottle standards at 20 °C, the same handbook
        (11.67, 20, 12.88, 0.005),
    ],
)
def test_compensation_brings_back_the_potassium_chloride_standards(measured, temp_c, at_25, relative):
    assert feed.ec_at_25_ms_cm(measured, temp_c) == pytest.approx(at_25, rel=relative)


@pytest.mark.parametrize(
    ("measured", "temp_c", "at_25"), [(1.0, 10, 1.390), (1.5, 18, 1.726), (2.0, 15, 2.460)]
)
def test_compensation_of_natural_water_stays_as_computed(measured, temp_c, at_25):
    # Regression values with the coefficient of Hayashi 2004 (abstract read, year from memory).
    found = feed.ec_at_25_ms_cm(measured, temp_c, feed.EC_TEMPERATURE_COEFFICIENT_WATER)
    assert found == pytest.approx(at_25, abs=0.002)


@given(st.floats(0, 30))
def test_a_reading_at_25_degrees_needs_no_compensation(ec):
    assert feed.ec_at_25_ms_cm(ec, 25) == ec


@pytest.mark.parametrize(
    ("first_l", "first", "second_l", "second", "mixed"), [(80, 2.4, 20, 0.3, 1.98), (45, 2.8, 15, 0.5, 2.225)]
)
def test_mixing_two_solutions_stays_as_computed(first_l, first, second_l, second, mixed):
    # Regression values of the mass balance.
    assert feed.mix(first_l, first, second_l, second) == pytest.approx(mixed, abs=1e-9)


def test_water_drain_and_swaps_stay_as_computed():
    # Regression values of the mass balance.
    assert feed.water_to_add_l(60, 3.0, 2.0, 0.4) == pytest.approx(37.5)
    assert 100 * feed.drain_fraction(3.0, 2.0, 0.4) == pytest.approx(38.5, abs=0.05)
    assert [feed.after_swaps(120, 10, 0.5, n) for n in (1, 2, 3)] == pytest.approx([65.0, 37.5, 23.75])
    assert [feed.after_swaps(200, 20, 0.3, n) for n in (1, 2)] == pytest.approx([146.0, 108.2])


@given(volumes, strengths, volumes, strengths)
def test_mixing_keeps_the_salt_and_stays_between_the_two(first_l, first, second_l, second):
    mixed = feed.mix(first_l, first, second_l, second)
    assert mixed * (first_l + second_l) == pytest.approx(first_l * first + second_l * second)
    assert min(first, second) - 1e-9 <= mixed <= max(first, second) + 1e-9


@given(volumes, st.floats(0, 2), st.floats(0.05, 3), st.floats(0, 5))
def test_every_way_of_thinning_reaches_the_target(volume_l, water, above_water, above_target):
    target, now = water + above_water, water + above_water + above_target
    added = feed.water_to_add_l(volume_l, now, target, water)
    if added > 0:
        assert feed.mix(volume_l, now, added, water) == pytest.approx(target)
    share = feed.drain_fraction(now, target, water)
    assert feed.after_swaps(now, water, share, 1) == pytest.approx(target)
    made = feed.dilute_feed(volume_l, now, target, water)
    assert made.feed_l + made.water_l == pytest.approx(volume_l)
    assert made.feed_l * now + made.water_l * water == pytest.approx(volume_l * target)
    assert made.water_l >= -1e-9


@given(st.floats(0.5, 50), st.floats(0.2, 0.9), st.floats(0, 1), st.floats(0.2, 2), st.floats(0, 5))
def test_leaching_is_the_limit_of_many_small_swaps(container_l, capacity, rinse, above_rinse, above_target):
    target, root = rinse + above_rinse, rinse + above_rinse + above_target
    litres = feed.leach_volume_l(container_l, capacity, root, target, rinse)
    swaps = 1000
    share = litres / (container_l * capacity) / swaps
    assume(share < 0.01)
    assert feed.after_swaps(root, rinse, share, swaps) == pytest.approx(target, rel=0.02)


def test_a_root_zone_on_target_needs_no_leaching():
    assert feed.leach_volume_l(7.5, 0.55, 2.0, 2.0, 0.5) == 0


@pytest.mark.parametrize(("mg_l", "me_l"), [(100, 1.998), (250, 4.996), (120, 2.398)])
def test_alkalinity_in_equivalents_follows_its_definition(mg_l, me_l):
    # Definition: 1 me/L = 50.04 mg/L CaCO3.
    assert feed.alkalinity_me_l(mg_l) == pytest.approx(me_l, abs=0.0006)


@given(st.floats(0, 2000))
def test_alkalinity_units_undo_each_other(mg_l):
    assert feed.alkalinity_mg_l(feed.alkalinity_me_l(mg_l)) == pytest.approx(mg_l)


@pytest.mark.parametrize(
    ("me_l", "ph", "target", "acid", "tolerance"), [(3.0, 7.5, 5.8, 2.30, 0.03), (5.0, 7.6, 6.0, 3.37, 0.05)]
)
def test_acid_to_a_ph_stays_as_computed(me_l, ph, target, acid, tolerance):
    # Regression values of the carbonate balance.
    assert feed.acid_to_reach_ph_me_l(feed.alkalinity_mg_l(me_l), ph, target) == pytest.approx(
        acid, abs=tolerance
    )


@pytest.mark.parametrize(("me_l", "ph", "acid", "end_ph"), [(3.0, 7.5, 2.4, 5.69), (4.0, 7.8, 3.2, 5.71)])
def test_neutralising_four_fifths_agrees_with_a_full_equilibrium_model(me_l, ph, acid, end_ph):
    # Computed once with PHREEQC, a program independent of this one; closed water, carbonate only.
    found = feed.acid_to_reach_ph_me_l(feed.alkalinity_mg_l(me_l), ph, end_ph)
    assert found == pytest.approx(acid, rel=0.03)


def test_the_share_to_neutralise_is_what_lies_above_the_target():
    assert feed.share_to_neutralise(250, 50) == pytest.approx(0.8)
    assert feed.share_to_neutralise(40, 50) == 0
    assert feed.share_to_neutralise(0, 50) == 0


@given(st.floats(0, 2000), st.floats(5, 8.3), st.floats(4.5, 8.3))
def test_acid_never_exceeds_the_alkalinity(mg_l, ph, target):
    assume(target <= ph)
    assert 0 <= feed.acid_to_reach_ph_me_l(mg_l, ph, target) <= feed.alkalinity_me_l(mg_l)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: feed.water_to_add_l(60, 3.0, 0.4, 0.4), "target"),
        (lambda: feed.water_to_add_l(60, 1.0, 2.0, 0.4), "target"),
        (lambda: feed.water_to_add_l(0, 3.0, 2.0, 0.4), "volume_l"),
        (lambda: feed.drain_fraction(3.0, 0.2, 0.4), "target"),
        (lambda: feed.dilute_feed(10, 31, 2, 0.4), "ec_ms_cm"),
        (lambda: feed.leach_volume_l(5, 1.5, 3, 2, 0.4), "container_capacity"),
        (lambda: feed.after_swaps(10, 1, 1.5, 2), "share"),
        (lambda: feed.after_swaps(10, 1, 0.5, -1), "swaps"),
        (lambda: feed.mix(1, -2, 1, 1), "first"),
        (lambda: feed.ec_at_25_ms_cm(2, 80), "temp_c"),
        (lambda: feed.ec_at_25_ms_cm(2, 20, 2), "coefficient"),
        (lambda: feed.tds_mg_l(-1, "500"), "ec_ms_cm"),
        (lambda: feed.alkalinity_me_l(-1), "alkalinity_mg_l"),
        (lambda: feed.acid_to_reach_ph_me_l(100, 9, 6), "ph"),
        (lambda: feed.acid_to_reach_ph_me_l(100, 7, 7.5), "target_ph"),
    ],
)
def test_impossible_feed_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
