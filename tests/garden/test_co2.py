"""Carbon dioxide against published figures. "Regression" values were computed, not read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import co2
from garden.agronomy.errors import OutOfRange

volumes = st.floats(0.5, 1000)
changes = st.floats(0, 20)


@pytest.mark.parametrize(("temp_c", "density"), [(0, 1.964), (15, 1.861), (30, 1.769)])
def test_density_stays_as_computed(temp_c, density):
    # Regression values of the ideal gas; a real gas at 0 °C has 1.977 (from memory), 0.7 % more.
    assert co2.co2_density_kg_m3(temp_c) == pytest.approx(density, abs=0.001)
    assert co2.co2_density_kg_m3(0) == pytest.approx(1.977, rel=0.007)


def test_a_pound_of_gas_fills_about_the_printed_volume():
    # 8.7 ft³ at 70 °F in extension texts (from memory); 8.8 by the ideal gas.
    volume_m3 = 0.45359237 / co2.co2_density_kg_m3((70 - 32) / 1.8)
    assert volume_m3 / 0.0283168 == pytest.approx(8.7, rel=0.02)


@pytest.mark.parametrize(("ppm", "mg_m3"), [(5000, 9000), (30_000, 54_000)])
def test_limits_by_weight_agree_with_niosh(ppm, mg_m3):
    # NIOSH, CAS 124-38-9 (read in a copy).
    assert co2.co2_mg_m3(ppm) == pytest.approx(mg_m3, rel=0.01)


@pytest.mark.parametrize(
    ("volume", "rise", "temp_c", "litres", "grams"),
    [(100, 600, 25, 60, 108), (30, 800, 25, 24, 43.2), (28.3168, 1000, (70 - 32) / 1.8, 28.3, 51.6)],
)
def test_fills_stay_as_computed(volume, rise, temp_c, litres, grams):
    # Regression values of the ideal gas.
    dose = co2.co2_fill(volume, 420, 420 + rise, temp_c)
    assert dose.litres == pytest.approx(litres, rel=0.01)
    assert dose.grams == pytest.approx(grams, rel=0.01)


def test_holding_against_one_air_change_stays_as_computed():
    # Regression value: 100 m³, 1 air change an hour, 600 ppm over outside, 0.108 kg/h.
    assert co2.co2_hold_g_h(100, 1, 1020, 420) == pytest.approx(108, rel=0.01)


def test_decay_stays_as_computed():
    # Regression value: from 1200 ppm, outside 420, one air change, one hour.
    assert co2.co2_after_ppm(1200, 1, 1) == pytest.approx(707, abs=1)


@given(volumes, st.floats(420, 1500), changes)
def test_holding_for_an_hour_replaces_what_leaks_in_that_hour(volume, inside, leak):
    # What leaks at the held level is what a fill over the same difference needs, times the air changes.
    assert co2.co2_hold_g_h(volume, leak, inside) == pytest.approx(
        co2.co2_fill(volume, 420, inside).grams * leak, abs=1e-9
    )


@given(st.floats(0, 5000), changes, st.floats(0, 24))
def test_the_level_moves_towards_outside_and_not_past_it(start, leak, hours):
    after = co2.co2_after_ppm(start, leak, hours)
    assert min(start, 420) - 1e-9 <= after <= max(start, 420) + 1e-9


@given(st.floats(0.05, 5), st.floats(600, 2000), st.floats(0.1, 1))
def test_the_leak_is_found_from_the_decay(leak, start, hours):
    end = co2.co2_after_ppm(start, leak, hours)
    if end > 421:
        assert co2.leakage_changes_per_h(start, end, hours) == pytest.approx(leak, rel=1e-6)


def test_plants_take_up_the_carbon_of_their_growth():
    # Carotti and others 2021 (read): 1.01 g of dry lettuce shoot per mol at 200 µmol/m²/s. 40 % carbon:
    # common practice, no source. A mol of light then binds 1.01 x 0.40 / 12.011 mol of carbon.
    mol_light = 200 * 3600e-6
    expected = mol_light * 1.01 * 0.40 / 12.011 * 44.0095
    assert co2.co2_uptake_g_h(200, 1.0, 1.01) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("ppfd", "leak", "now", "verdict", "target"),
    [
        (400, 0.5, 250, "air-first", None),
        (120, 0.5, 420, "light-first", None),
        (500, 5, 420, "seal-first", None),
        (300, 0.5, 420, "small-gain", 800),
        (600, 0.5, None, "worth-trying", 1000),
    ],
)
def test_enrichment_is_advised_only_with_light_and_a_tight_room(ppfd, leak, now, verdict, target):
    # Common practice, no source, with the useful levels of Oklahoma State and Ontario (read).
    found = co2.enrichment(ppfd, leak, now)
    assert (found.verdict, found.target_ppm) == (verdict, target)


def test_exposure_limits_are_those_of_niosh():
    # NIOSH, CAS 124-38-9 (read in a copy; 40 000 ppm from memory).
    assert {limit.code: limit.ppm for limit in co2.EXPOSURE_LIMITS} == {
        "eight-hours": 5_000,
        "fifteen-minutes": 30_000,
        "immediate-danger": 40_000,
        "unconscious": 100_000,
    }
    assert all(limit.source and limit.status for limit in co2.EXPOSURE_LIMITS)
    reached = [co2.exposure_reached(ppm) for ppm in (420, 5_000, 29_000, 35_000, 50_000, 200_000)]
    assert reached == [
        None, "eight-hours", "eight-hours", "fifteen-minutes", "immediate-danger", "unconscious",
    ]  # fmt: skip


@given(st.floats(0, 3000), changes, st.none() | st.floats(0, 5000))
def test_what_is_aimed_at_is_safe_to_breathe_for_a_working_day(ppfd, leak, now):
    target = co2.enrichment(ppfd, leak, now).target_ppm
    assert target is None or target <= co2.HIGHEST_TARGET_PPM < 5000


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: co2.co2_density_kg_m3(90), "temp_c"),
        (lambda: co2.co2_mg_m3(-1), "ppm"),
        (lambda: co2.co2_fill(0, 420, 800), "volume_m3"),
        (lambda: co2.co2_fill(30, 800, 420), "to_ppm"),
        (lambda: co2.co2_fill(30, 420, 5000), "to_ppm"),
        (lambda: co2.co2_hold_g_h(30, -1, 800), "changes_per_h"),
        (lambda: co2.co2_hold_g_h(30, 1, 300), "inside_ppm"),
        (lambda: co2.co2_hold_g_h(30, 1, 800, uptake_g_h=-1), "uptake_g_h"),
        (lambda: co2.co2_uptake_g_h(200, 0), "area_m2"),
        (lambda: co2.co2_after_ppm(-1, 1, 1), "start_ppm"),
        (lambda: co2.leakage_changes_per_h(400, 390, 1), "start_ppm"),
        (lambda: co2.leakage_changes_per_h(1000, 400, 1), "end_ppm"),
        (lambda: co2.enrichment(-1, 1), "ppfd_umol_m2_s"),
        (lambda: co2.exposure_reached(float("nan")), "ppm"),
    ],
)
def test_impossible_gas_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
