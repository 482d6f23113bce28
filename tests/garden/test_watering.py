"""Watering against published figures. "Regression" values were computed, not read."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import air, watering
from garden.agronomy.errors import OutOfRange

shares = st.floats(0.05, 1)
litres = st.floats(0.1, 100)


@pytest.mark.parametrize(
    ("temp_c", "mg_l", "tolerance"),
    [
        (0, 14.6, 0.05),
        (5, 12.8, 0.05),
        (10, 11.3, 0.05),
        (15, 10.1, 0.05),
        (20, 9.09, 0.01),
        (21, 8.91, 0.01),
        (25, 8.26, 0.01),
        (30, 7.56, 0.01),
    ],
)
def test_dissolved_oxygen_agrees_with_the_standard_table(temp_c, mg_l, tolerance):
    # EN 25814 (ISO 5814), read as reproduced in an instrument's handbook.
    assert watering.dissolved_oxygen_saturation_mg_l(temp_c) == pytest.approx(mg_l, abs=tolerance)


@pytest.mark.parametrize(("temp_c", "mg_l"), [(33, 7.18), (35, 6.95)])
def test_dissolved_oxygen_beyond_the_table_stays_as_computed(temp_c, mg_l):
    # Regression values of the Benson-Krause equation.
    assert watering.dissolved_oxygen_saturation_mg_l(temp_c) == pytest.approx(mg_l, abs=0.02)


@given(st.floats(0, 39), st.floats(0.01, 1), st.floats(50, 109))
def test_colder_water_and_denser_air_hold_more_oxygen(temp_c, step, pressure_kpa):
    held = watering.dissolved_oxygen_saturation_mg_l(temp_c, pressure_kpa)
    assert watering.dissolved_oxygen_saturation_mg_l(temp_c + step, pressure_kpa) < held
    assert watering.dissolved_oxygen_saturation_mg_l(temp_c, pressure_kpa + step) > held


@pytest.mark.parametrize(
    ("temp_c", "pressure_kpa", "mg_l"),
    [(5, 95.461, 12.026), (20, 89.875, 8.041), (20, 79.5, 7.089), (30, 89.875, 6.668)],
)
def test_dissolved_oxygen_at_altitude_agrees_with_benson_and_krause(temp_c, pressure_kpa, mg_l):
    # Computed once with equation 24 of Benson and Krause 1984 and the vapour pressure of Green and Carritt
    # 1967 (formulas read in a copy), where this project takes the vapour pressure of ASHRAE 2017.
    found = watering.dissolved_oxygen_saturation_mg_l(temp_c, pressure_kpa)
    assert found == pytest.approx(mg_l, abs=0.002)


@given(st.floats(0, 40), st.floats(70, 101))
def test_dissolved_oxygen_at_altitude_follows_the_partial_pressure_of_the_gas(temp_c, pressure_kpa):
    # Henry's law without the small correction for a real gas, so right to 0.05 %.
    vapour = air.saturation_vapour_pressure_kpa(temp_c)
    found = watering.dissolved_oxygen_saturation_mg_l(temp_c, pressure_kpa)
    at_sea_level = watering.dissolved_oxygen_saturation_mg_l(temp_c)
    assert found / at_sea_level == pytest.approx((pressure_kpa - vapour) / (101.325 - vapour), rel=0.0005)


def test_evapotranspiration_agrees_with_the_worked_example_of_fao_56():
    # FAO-56 example 17 (read in a copy): 30.2 °C, 4.42 - 2.85 kPa, 2 m/s, 14.33 - 0.14 MJ/m²/d give 5.72 mm.
    # The example is near sea level (gamma 0.0674 there, 0.06738 here).
    found = watering.reference_evapotranspiration_mm_d(14.33 - 0.14, 30.2, 4.42 - 2.85, 2.0)
    assert found == pytest.approx(5.72, abs=0.02)


def test_evapotranspiration_at_altitude_agrees_with_another_worked_example_of_fao_56():
    # FAO-56 example 18 (from memory): 16.9 °C, 1.997 - 1.409 kPa, 2.078 m/s, 13.28 MJ/m²/d at 100 m above
    # the sea (100.1 kPa) give 3.88 mm.
    found = watering.reference_evapotranspiration_mm_d(13.28, 16.9, 1.997 - 1.409, 2.078, 100.1)
    assert found == pytest.approx(3.88, abs=0.02)


def test_light_limited_water_use_agrees_with_fao_56():
    # FAO-56 example 13 (read in a copy): 0.33 MJ/m² a day evaporate 0.13 mm.
    watts = 0.33e6 / 86_400
    assert watering.light_limited_water_use_l_m2_d(watts, 24) == pytest.approx(0.13, abs=0.0051)


def test_light_limited_water_use_stays_as_computed():
    # Regression value: 100 W/m² for 16 h.
    assert watering.light_limited_water_use_l_m2_d(100, 16) == pytest.approx(2.35, abs=0.01)


def test_estimated_water_use_of_a_bright_closed_lettuce_crop_is_of_the_published_size():
    # Barbosa and others 2015 (read; modelled): 41 kg/m² a year at 20 L/kg, 2.25 L/m² a day with sunlight.
    # Greenhouse light of 17 mol in 16 h at 24 °C and 60 %. A rough estimate, so only its size is checked.
    found = watering.daily_water_use_l(295, 16, 1.0, 1.0, 24, 60)
    assert 2.25 * 0.5 < found < 2.25 * 1.5


@given(st.floats(0, 1500), st.floats(1, 24), st.floats(10, 35), st.floats(20, 95))
def test_water_use_rises_with_light_and_falls_with_humidity(ppfd, hours, temp_c, rh):
    use = watering.daily_water_use_l(ppfd, hours, 1.0, 1.0, temp_c, rh)
    assert watering.daily_water_use_l(ppfd + 10, hours, 1.0, 1.0, temp_c, rh) > use
    assert watering.daily_water_use_l(ppfd, hours, 1.0, 1.0, temp_c, rh + 1) < use


def test_water_use_in_known_air_is_the_evapotranspiration_of_the_absorbed_light_in_slow_air():
    # The assumptions the estimate states: 4.6 µmol/J, 80 % absorbed, 0.5 m/s.
    energy = 200 / 4.6 * 0.8 * 16 * 3600 / 1e6
    expected = watering.reference_evapotranspiration_mm_d(energy, 22, air.vpd_air_kpa(22, 60), 0.5)
    assert watering.daily_water_use_l(200, 16, 2.0, 0.5, 22, 60) == pytest.approx(expected)


def test_half_the_available_water_may_go_unless_said_otherwise():
    # Common practice, no source.
    assert watering.watering_interval_days(2.0, 0.5) == 2.0
    assert watering.ready_to_water_loss_g(10, 0.3) == pytest.approx(1500)


@given(st.floats(0, 1500), st.floats(0, 24), st.floats(0.1, 10), shares)
def test_water_use_follows_the_covered_area(ppfd, hours, area_m2, share):
    whole = watering.daily_water_use_l(ppfd, hours, 1.0)
    assert watering.daily_water_use_l(ppfd, hours, area_m2, share) == pytest.approx(whole * area_m2 * share)


def test_a_pot_holds_its_capacity():
    # Regression value: 2.5 L at 55 %.
    assert watering.water_held_l(2.5, 0.55) == pytest.approx(1.375)


@pytest.mark.parametrize(
    ("given_l", "drained_l", "share"), [(1.0, 0.15, 0.15), (0.5, 0.06, 0.12), (0.75, 0.2, 0.267)]
)
def test_leaching_fraction_follows_its_definition(given_l, drained_l, share):
    # UF/IFAS ENH1268/EP529 (definition read; the numbers are regression values).
    assert watering.leaching_fraction(given_l, drained_l) == pytest.approx(share, abs=0.0005)


@pytest.mark.parametrize(
    ("water", "tolerated", "share"), [(1.0, 2.5, 0.087), (1.2, 1.7, 0.164), (1.5, 2.0, 0.176)]
)
def test_leaching_requirement_follows_fao_29(water, tolerated, share):
    # FAO 29 (formula read in a copy; the numbers are regression values).
    assert watering.leaching_requirement(water, tolerated) == pytest.approx(share, abs=0.001)


def test_refilling_with_leaching_stays_as_computed():
    # Regression value: 280 mL lost, 15 % to run through.
    assert watering.irrigation_volume_l(0.280, 0.15) == pytest.approx(0.3294, abs=0.0001)


@given(litres, st.floats(0, 0.9))
def test_the_share_that_runs_through_is_the_one_asked_for(lost_l, share):
    applied = watering.irrigation_volume_l(lost_l, share)
    assert watering.leaching_fraction(applied, max(0.0, applied - lost_l)) == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(("full", "dry", "now", "share"), [(1450, 650, 1050, 0.5), (820, 300, 540, 0.538)])
def test_depletion_by_weight_stays_as_computed(full, dry, now, share):
    # Regression values.
    assert watering.depletion_by_weight(full, dry, now) == pytest.approx(share, abs=0.001)


@given(litres, shares, shares, st.floats(100, 10_000))
def test_a_pot_that_lost_its_ready_to_water_weight_is_depleted_as_allowed(
    container_l, available, allowed, dry_g
):
    full = dry_g + 1000 * watering.available_water_l(container_l, available)
    now = full - watering.ready_to_water_loss_g(container_l, available, allowed)
    assert watering.depletion_by_weight(full, dry_g, max(now, dry_g)) == pytest.approx(allowed, abs=1e-6)


@given(litres, st.floats(0.01, 10), shares)
def test_what_is_used_between_waterings_is_the_allowed_part(available_l, use_l, allowed):
    days = watering.watering_interval_days(available_l, use_l, allowed)
    assert days * use_l == pytest.approx(available_l * allowed)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: watering.water_held_l(0, 0.5), "container_l"),
        (lambda: watering.water_held_l(5, 55), "container_capacity"),
        (lambda: watering.available_water_l(5, 30), "available_water"),
        (lambda: watering.light_limited_water_use_l_m2_d(2000, 16), "absorbed_w_m2"),
        (lambda: watering.reference_evapotranspiration_mm_d(5, 60, 1, 1), "temp_c"),
        (lambda: watering.reference_evapotranspiration_mm_d(5, 20, 1, -1), "air_speed_m_s"),
        (lambda: watering.daily_water_use_l(5000, 16, 1), "ppfd_umol_m2_s"),
        (lambda: watering.daily_water_use_l(200, 16, 1, 1.1), "canopy_share"),
        (lambda: watering.watering_interval_days(1, 0), "daily_use_l"),
        (lambda: watering.irrigation_volume_l(1, 1), "leaching_fraction"),
        (lambda: watering.leaching_fraction(1, 2), "drained_l"),
        (lambda: watering.leaching_requirement(5, 1), "tolerated_ec_ms_cm"),
        (lambda: watering.depletion_by_weight(600, 650, 620), "full_g"),
        (lambda: watering.depletion_by_weight(1450, 650, 1500), "now_g"),
        (lambda: watering.dissolved_oxygen_saturation_mg_l(80), "temp_c"),
        (lambda: watering.dissolved_oxygen_saturation_mg_l(20, 1013), "pressure_kpa"),
    ],
)
def test_impossible_watering_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field


def test_a_watering_plan_replaces_what_is_used_and_leaches_its_share():
    # Regression value: 280 mL used, 15 % to run through, 329 mL given.
    plan = watering.watering_plan(0.56, 0.14, 0.5, 0.15)
    assert plan.interval_days == pytest.approx(2.0)
    assert plan.used_l == pytest.approx(0.28)
    assert plan.apply_l == pytest.approx(0.3294, abs=0.0001)


@given(litres, st.floats(0.01, 10), shares, st.floats(0, 0.9))
def test_what_a_plan_gives_is_what_is_used_and_what_drains(available_l, use_l, allowed, leach):
    plan = watering.watering_plan(available_l, use_l, allowed, leach)
    assert plan.apply_l == pytest.approx(plan.used_l + plan.drain_l)
    assert plan.used_l == pytest.approx(plan.interval_days * use_l)
    assert watering.leaching_fraction(plan.apply_l, max(0.0, plan.drain_l)) == pytest.approx(leach, abs=1e-9)


@pytest.mark.parametrize(
    ("between_days", "rhythm"), [(0.5, "too-often"), (2, "fitting"), (4, "too-seldom"), (6, "dries-out")]
)
def test_how_often_a_pot_is_watered_is_told_by_how_dry_it_gets(between_days, rhythm):
    # 1.5 L available, 0.3 L a day, half allowed: due after 2.5 days. The limits are judgement.
    found = watering.overwatering(0.5, between_days, 1.5, 0.3)
    assert found.rhythm == rhythm
    assert found.due_days == pytest.approx(2.5)


def test_what_is_applied_is_set_against_what_is_used():
    found = watering.overwatering(1.0, 1.0, 1.5, 0.25)
    assert found.applied_ratio == pytest.approx(4)
    assert found.depletion == pytest.approx(1 / 6)


@given(litres, st.floats(0.1, 30), litres, st.floats(0.01, 10), shares)
def test_watering_less_often_never_makes_a_pot_wetter(applied, days, available_l, use_l, allowed):
    now = watering.overwatering(applied, days, available_l, use_l, allowed)
    later = watering.overwatering(applied, days * 1.5, available_l, use_l, allowed)
    order = ["too-often", "fitting", "too-seldom", "dries-out"]
    assert later.depletion >= now.depletion
    assert later.applied_ratio <= now.applied_ratio
    assert order.index(later.rhythm) >= order.index(now.rhythm)


def test_the_days_to_the_next_watering_come_from_the_scale():
    assert watering.days_to_next_watering(1450, 1050, 0.2) == pytest.approx(2)
    assert watering.days_to_next_watering(900, 1050, 0.2) == 0


@given(litres, st.floats(0.01, 10), st.floats(0.1, 60), shares)
def test_a_pot_dries_down_from_full_without_rising_and_never_below_nothing(available_l, use_l, days, allowed):
    curve = watering.dry_down(available_l, use_l, days, allowed)
    left = [amount for _, amount in curve]
    assert left[0] == available_l
    assert all(0 <= later <= earlier for earlier, later in pairwise(left))
    # Never faster than the plant's full use.
    assert all(amount >= available_l - use_l * day - 1e-9 * available_l for day, amount in curve)


def test_the_plant_slows_down_once_the_allowed_part_is_gone():
    # FAO-56 equation 84 (from memory): half the stress reserve is used after ln 2 of its own time.
    curve = dict(watering.dry_down(1.0, 0.1, 10, 0.5, steps=10))
    assert curve[5.0] == pytest.approx(0.5)
    assert curve[10.0] == pytest.approx(0.5 * 2.718281828**-1)


@pytest.mark.parametrize(
    ("temp_c", "held", "verdict", "warm"),
    [
        (20, 7, "enough", False),
        (20, 4.5, "low", False),
        (20, 2, "harmful", False),
        (28, None, "enough", True),
    ],
)
def test_oxygen_at_the_roots_is_judged(temp_c, held, verdict, warm):
    # Floors of about 3 and 4 to 6 mg/L from memory; 23 °C: Gold and Stanghellini 1985 (read).
    found = watering.root_oxygen(temp_c, held)
    assert (found.verdict, found.warm) == (verdict, warm)


@given(st.floats(0, 40), st.floats(0, 20))
def test_oxygen_is_shown_against_what_the_water_could_hold(temp_c, held):
    found = watering.root_oxygen(temp_c, held)
    assert found.saturated_share * found.saturation_mg_l == pytest.approx(held)
    assert watering.root_oxygen(temp_c).saturated_share == 1


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: watering.watering_plan(0, 1), "available_l"),
        (lambda: watering.watering_plan(1, 1, 0.5, 1), "leaching_fraction"),
        (lambda: watering.overwatering(-1, 1, 1, 1), "applied_l"),
        (lambda: watering.overwatering(1, 0, 1, 1), "between_days"),
        (lambda: watering.overwatering(1, 1, 1, 0), "daily_use_l"),
        (lambda: watering.days_to_next_watering(-1, 1, 1), "now_g"),
        (lambda: watering.days_to_next_watering(1, 1, 0), "daily_use_l"),
        (lambda: watering.dry_down(1, 1, 0), "days"),
        (lambda: watering.dry_down(1, 1, 1, 0.5, 0), "steps"),
        (lambda: watering.root_oxygen(60), "temp_c"),
        (lambda: watering.root_oxygen(20, -1), "dissolved_mg_l"),
    ],
)
def test_watering_that_cannot_be_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
