"""The room's heat and water against published rules. "Regression" values were computed, not read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import climate
from garden.agronomy.errors import AgronomyError, OutOfRange

watts = st.floats(0, 20_000)
flows = st.floats(1, 10_000)


def test_the_handbook_rule_of_sensible_heat_holds():
    # ASHRAE standard air (read in a copy): 0.075 lb/ft³ x 60 x 0.24 = 1.08; Engineering ToolBox worked
    # example (read): 1 CFM from 32 to 52 °F carries 21.6 BTU/h.
    assert pytest.approx(0.075 * 60 * 0.24) == climate.SENSIBLE_BTU_H_PER_CFM_F
    assert climate.sensible_heat_btu_h(1, 52 - 32) == pytest.approx(21.6)
    assert climate.sensible_heat_btu_h(1200, 20) == pytest.approx(25_920)


@given(flows, st.floats(0.1, 40))
def test_heat_in_metric_agrees_with_the_handbook_rule(flow, rise_c):
    metric = climate.btu_h(climate.sensible_heat_w(flow, rise_c))
    assert metric == pytest.approx(climate.sensible_heat_btu_h(climate.cfm(flow), rise_c * 1.8), rel=0.01)


def test_latent_heat_by_grains_agrees_with_a_textbook_example():
    # Textbook example (read in a copy): 10 000 CFM from 100 to 72 grains per pound, 190 400 BTU/h.
    assert climate.latent_heat_btu_h(10_000, 100 - 72) == pytest.approx(190_400)
    # Handbook factors (read): 0.68 by the grain and 4840 by the pound, of which 7000 grains make one.
    assert pytest.approx(climate.LATENT_BTU_H_PER_CFM_LB, rel=0.02) == (
        climate.LATENT_BTU_H_PER_CFM_GRAIN * 7000
    )


@pytest.mark.parametrize(("lamp_w", "m3_h", "cfm"), [(1000, 537, 316), (600, 322, 190)])
def test_air_flow_for_lamps_stays_as_computed(lamp_w, m3_h, cfm):
    # Regression values for a rise of 10 °F.
    flow = climate.airflow_for_heat_m3_h(lamp_w, 10 / 1.8)
    assert flow == pytest.approx(m3_h, rel=0.01)
    assert climate.cfm(flow) == pytest.approx(cfm, rel=0.01)


def test_units_stay_as_defined():
    assert climate.btu_h(1000) == pytest.approx(3412, abs=1)
    assert climate.us_pints(0.473176473) == pytest.approx(1)


@pytest.mark.parametrize(
    ("litres", "heat_w", "btu", "pints"), [(4, 113, 387, 8.45), (10, 284, 968, 21.1), (1, 28.4, 97, 2.11)]
)
def test_heat_bound_by_water_stays_as_computed(litres, heat_w, btu, pints):
    # Regression values with 2.45 MJ/kg.
    assert climate.latent_heat_w(litres) == pytest.approx(heat_w, rel=0.01)
    assert climate.btu_h(climate.latent_heat_w(litres)) == pytest.approx(btu, rel=0.01)
    assert climate.us_pints(litres) == pytest.approx(pints, rel=0.01)


def test_heat_behind_each_square_metre_of_light_agrees_with_tested_fixtures():
    # 1.70 µmol/J: best fixtures of Nelson and Bugbee 2014 (read); 118 W/m² is a regression value.
    assert climate.lamp_heat_w_m2(200, 1.70) == pytest.approx(118, abs=1)


@given(watts, st.floats(1, 24), watts, st.floats(0, 100))
def test_a_cooler_takes_out_what_comes_in(lamp_w, hours, other_w, litres):
    load = climate.cooling_load(lamp_w, hours, other_w=other_w, transpired_l_d=litres)
    assert load.total_w == pytest.approx(lamp_w + other_w)
    assert load.sensible_w + load.latent_w == pytest.approx(load.total_w)
    assert load.latent_w <= load.total_w
    assert load.sensible_w >= 0


def test_a_dehumidifier_turns_the_waters_heat_back_into_heat_of_the_room():
    load = climate.cooling_load(1000, 16, transpired_l_d=5, dehumidifier_w=400)
    assert (load.total_w, load.latent_w) == (1400, 0)


@given(watts, st.floats(0.5, 30))
def test_air_flow_and_heat_undo_each_other(heat_w, rise_c):
    flow = climate.airflow_for_heat_m3_h(heat_w, rise_c)
    assert climate.sensible_heat_w(min(flow, 1e6), rise_c) == pytest.approx(
        heat_w if flow <= 1e6 else climate.sensible_heat_w(1e6, rise_c)
    )


@given(st.floats(0, 1000), st.floats(0, 1))
def test_water_given_and_not_drained_ends_up_in_the_air(given_l, share):
    assert climate.moisture_load_l_d(given_l, given_l * share) + given_l * share == pytest.approx(given_l)
    assert climate.moisture_load_l_d(10, 2, 1) == 9


def test_air_that_is_no_drier_than_the_room_cannot_dry_it():
    with pytest.raises(OutOfRange, match="outside_rh_percent"):
        climate.airflow_for_moisture_m3_h(1, 22, 60, 30, 70)
    assert climate.airflow_for_moisture_m3_h(0.5, 24, 60, 5, 80) == pytest.approx(62, abs=3)  # regression


@given(st.floats(0, 100), st.floats(15, 30), st.floats(50, 90))
def test_drier_air_from_outside_needs_less_of_it(litres, temp_c, rh):
    wet = climate.airflow_for_moisture_m3_h(litres, temp_c, rh, 5, 60)
    assert climate.airflow_for_moisture_m3_h(litres, temp_c, rh, 0, 60) <= wet


@given(st.floats(0, 500), st.floats(5, 44), st.floats(20, 99), st.sampled_from(["30c-80", "27c-60"]))
def test_a_dehumidifier_is_never_smaller_than_its_load(litres, temp_c, rh, rated_at):
    found = climate.dehumidifier_size(litres, temp_c, rh, rated_at=rated_at)
    assert found.rated_l_d >= litres
    assert 0 < found.capacity_share <= 1
    warmer = climate.dehumidifier_size(litres, temp_c + 1, rh, rated_at=rated_at)
    assert warmer.rated_l_d <= found.rated_l_d * (1 + 1e-9)


def test_a_dehumidifier_in_a_cold_room_carries_a_warning_and_less_capacity():
    cold, warm = climate.dehumidifier_size(10, 12, 70), climate.dehumidifier_size(10, 28, 70)
    assert cold.cold
    assert not warm.cold
    assert cold.capacity_share < warm.capacity_share


def test_a_fan_is_sized_with_its_allowances_stated():
    # Allowances are common practice, no source: 25 % filter, 2 % a metre, 5 % a bend.
    fan = climate.fan_size(300, carbon_filter=True, duct_m=3, bends=2)
    assert dict(fan.allowances) == pytest.approx({"filter": 0.25, "duct": 1 - 0.98**3, "bends": 1 - 0.95**2})
    assert fan.rated_m3_h == pytest.approx(300 / (0.75 * 0.98**3 * 0.95**2))
    assert fan.rated_cfm == pytest.approx(climate.cfm(fan.rated_m3_h))
    bare = climate.fan_size(300)
    assert (bare.rated_m3_h, bare.allowances) == (300, ())


@given(flows, st.booleans(), st.floats(0, 15), st.integers(0, 6))
def test_every_metre_and_bend_asks_for_a_larger_fan(flow, filtered, metres, bends):
    now = climate.fan_size(flow, carbon_filter=filtered, duct_m=metres, bends=bends)
    assert now.rated_m3_h >= flow
    more = climate.fan_size(flow, carbon_filter=filtered, duct_m=metres + 1, bends=bends + 1)
    assert more.rated_m3_h > now.rated_m3_h


def test_a_duct_that_leaves_hardly_any_air_is_refused_with_advice():
    with pytest.raises(AgronomyError, match="shorten or widen"):
        climate.fan_size(300, carbon_filter=True, duct_m=50, bends=4)


def test_air_changes_are_the_volume_renewed():
    assert climate.airflow_for_changes_m3_h(30, 20) == 600


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: climate.btu_h(-1), "watts"),
        (lambda: climate.cfm(float("nan")), "airflow_m3_h"),
        (lambda: climate.us_pints(-1), "litres"),
        (lambda: climate.sensible_heat_w(10, 80), "rise_c"),
        (lambda: climate.airflow_for_heat_m3_h(1000, 0), "rise_c"),
        (lambda: climate.sensible_heat_btu_h(10, 300), "rise_f"),
        (lambda: climate.latent_heat_btu_h(10, -1), "grains_lb"),
        (lambda: climate.lamp_heat_w_m2(100, 0), "efficacy_umol_j"),
        (lambda: climate.latent_heat_w(5, 0), "hours"),
        (lambda: climate.cooling_load(-5, 16), "lamp_w"),
        (lambda: climate.moisture_load_l_d(1, 2), "drained_l_d"),
        (lambda: climate.airflow_for_moisture_m3_h(-1, 20, 60, 5, 60), "litres_h"),
        (lambda: climate.dehumidifier_size(5, 2, 60), "room_temp_c"),
        (lambda: climate.dehumidifier_size(5, 20, 5), "room_rh_percent"),
        (lambda: climate.dehumidifier_size(5, 20, 60, allowance=0.5), "allowance"),
        (lambda: climate.fan_size(0), "needed_m3_h"),
        (lambda: climate.fan_size(100, bends=99), "bends"),
        (lambda: climate.airflow_for_changes_m3_h(0, 5), "volume_m3"),
    ],
)
def test_impossible_rooms_are_refused_by_the_name_of_their_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
