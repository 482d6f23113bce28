"""Correcting a tank: the steps end at the target and nothing appears or vanishes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy import feed
from garden.agronomy.acid import acid_strength
from garden.agronomy.conductivity import solution_ec_ms_cm
from garden.agronomy.errors import AgronomyError
from garden.agronomy.mix import Product, label_product
from garden.agronomy.reservoir import EC_TOLERANCE, PH_TOLERANCE, Tank, correct_reservoir
from garden.agronomy.water import Water, water_from_analysis, water_solution

TAP = water_from_analysis({"Ca": 60, "Mg": 10, "Na": 20, "Cl": 30, "SO4": 40}, ph=7.6, alkalinity_mg_l=150)
FEED = label_product(
    "one-part",
    {"N-NO3": 5, "N-NH4": 0.3, "P2O5": 3, "K2O": 7, "Ca": 4, "Mg": 1.2, "S": 1.5},
    liquid=True,
    density_g_ml=1.25,
)
PHOSPHORIC = acid_strength("phosphoric", 85, 1.69)


def correct(tank, water=TAP, ec=2.0, ph=5.8, strength=PHOSPHORIC):
    return correct_reservoir(tank, water, FEED, target_ec_ms_cm=ec, target_ph=ph, strength=strength)


def test_the_steps_come_in_order_and_end_at_the_target():
    found = correct(Tank(50, 100, 1.2, 6.2))
    assert [step.code for step in found.steps] == ["top-up", "add-concentrate", "add-acid"]
    assert found.ec_ms_cm == pytest.approx(2.0, rel=EC_TOLERANCE)
    assert found.ph == pytest.approx(5.8, abs=PH_TOLERANCE)
    assert "check-after-airing" in found.notes


def test_a_tank_too_strong_is_drained_by_about_the_share_that_ec_tells():
    found = correct(Tank(100, 100, 3.4, 5.2), strength=None)
    water_ec = solution_ec_ms_cm(water_solution(TAP))
    # EC mixes in proportion to about 2 % for dilute solutions (mass balance).
    assert found.drain_share == pytest.approx(feed.drain_fraction(3.4, 2.0, water_ec), rel=0.05)
    assert found.steps[0].code == "drain-and-refill"
    assert found.ec_ms_cm == pytest.approx(2.0, rel=EC_TOLERANCE)


def test_topping_up_thins_as_the_mass_balance_says():
    # Regression value of the mass balance: 80 L at 2.4 and 20 L at the water's EC.
    found = correct(Tank(80, 100, 2.4, 5.9), ec=1.99, strength=None)
    expected = feed.mix(80, 2.4, 20, solution_ec_ms_cm(water_solution(TAP)))
    assert found.steps[0].ec_ms_cm == pytest.approx(expected, rel=0.03)


def test_a_tank_on_target_is_left_alone():
    found = correct(Tank(100, 100, 2.0, 5.8))
    assert found.steps == ()
    assert found.notes == ("nothing-to-do",)


def test_a_tank_too_acid_is_not_raised_but_told():
    found = correct(Tank(100, 100, 2.0, 4.8), water=Water())
    assert "ph-is-below-target" in found.notes
    assert found.acid is None


def test_water_as_strong_as_the_target_cannot_thin_and_says_so():
    found = correct(Tank(100, 100, 2.0, 5.8), ec=0.4)
    assert "water-stronger-than-target" in found.notes
    assert all(step.code != "drain-and-refill" for step in found.steps)


def test_a_concentrate_too_weak_is_told():
    weak = label_product("weak", {"K2O": 0.1, "N-NO3": 0.03}, liquid=True, density_g_ml=1.0)
    found = correct_reservoir(Tank(90, 100, 1.0, 6.0), TAP, weak, target_ec_ms_cm=3.0, target_ph=5.8)
    assert "concentrate-too-weak" in found.notes


@settings(max_examples=40, deadline=None)
@given(st.floats(0.4, 1), st.floats(0.6, 4), st.floats(5.2, 7.2), st.floats(1.0, 3.0), st.floats(5.5, 6.3))
def test_mass_is_conserved_and_the_target_met(full, ec, ph, target_ec, target_ph):
    tank = Tank(full * 100, 100, ec, ph)
    found = correct(tank, ec=target_ec, ph=target_ph)
    assert found.ec_ms_cm == pytest.approx(target_ec, rel=EC_TOLERANCE)
    if "ph-is-below-target" not in found.notes:
        assert found.ph == pytest.approx(target_ph, abs=PH_TOLERANCE + 1e-6)
    amounts = {step.code: step.amount for step in found.steps}
    assert all(amount > 0 for amount in amounts.values())
    assert found.volume_l == pytest.approx(100 + amounts.get("add-concentrate", 0) / 1000)
    # Potassium comes with the concentrate only, and leaves with what is drained.
    brought = amounts.get("add-concentrate", 0) * FEED.content_mg["K"] / 39.0983
    kept = found.start_mmol["K"] * (1 - found.drain_share)
    assert found.end_mmol["K"] == pytest.approx(kept + brought, rel=1e-3)
    # Chloride comes with the water only: topped up, less what was drained, and what the refill brings.
    water_cl = water_solution(TAP).parts_mmol_l["Cl"]
    after_top_up = found.start_mmol.get("Cl", 0) + water_cl * amounts.get("top-up", 0)
    expected = after_top_up * (1 - found.drain_share) + water_cl * amounts.get("drain-and-refill", 0)
    assert found.end_mmol.get("Cl", 0) == pytest.approx(expected, rel=1e-3, abs=0.05)


@pytest.mark.parametrize(
    ("tank", "options", "message"),
    [
        (Tank(120, 100, 2, 6), {}, "volume_l"),
        (Tank(0, 100, 2, 6), {}, "volume_l"),
        (Tank(50, 100, 40, 6), {}, "ec_ms_cm"),
        (Tank(50, 100, 2, 2), {}, "ph"),
        (Tank(50, 100, 2, 6), {"ec": 9}, "target_ec_ms_cm"),
        (Tank(50, 100, 2, 6), {"ph": 8}, "target_ph"),
    ],
)
def test_an_impossible_tank_is_refused_by_field(tank, options, message):
    with pytest.raises(AgronomyError, match=message):
        correct(tank, **options)


def test_a_concentrate_that_brings_nothing_is_refused():
    with pytest.raises(AgronomyError, match="nothing that conducts"):
        correct_reservoir(Tank(50, 100, 2, 6), TAP, Product("sugar", {}), target_ec_ms_cm=2.0, target_ph=5.8)
