"""EC of known ions against published conductivities. "From memory" values are marked and leave more room."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy import conductivity as ec
from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.agronomy.solution import KG_WATER_PER_L, equilibrium


def kcl(mol_per_kg, temp_c=25):
    amount = mol_per_kg * 1000 * KG_WATER_PER_L
    return ec.ions_ec_ms_cm({"K": amount, "Cl": amount}, ph=7, temp_c=temp_c)


@pytest.mark.parametrize(
    ("mol_per_kg", "temp_c", "expected", "relative"),
    [
        # Wu, Koch and Pratt, J. Res. NIST 96:191, 1991, table in the CRC Handbook (read).
        (0.01, 25, 1.4082, 0.002),
        (0.01, 5, 0.8910, 0.01),
        (0.01, 15, 1.1415, 0.01),
        (0.01, 35, 1.6878, 0.01),
        (0.1, 0, 7.117, 0.01),
        (0.1, 10, 9.292, 0.01),
        (0.1, 20, 11.616, 0.01),
        (0.1, 25, 12.825, 0.002),
        (0.1, 30, 14.059, 0.01),
    ],
)
def test_the_potassium_chloride_standards_are_met(mol_per_kg, temp_c, expected, relative):
    assert kcl(mol_per_kg, temp_c) == pytest.approx(expected, rel=relative)


def test_the_bottle_standard_of_1413_is_met():
    # Standard Methods, bottle of 0.01 mol/L (read in a copy); at 15, 20 and 30 °C from a meter's handbook.
    bottle = {"K": 10.0, "Cl": 10.0}
    assert ec.ions_ec_ms_cm(bottle, ph=7) == pytest.approx(1.413, rel=0.003)
    for temp_c, expected in ((15, 1.147), (20, 1.278), (30, 1.552)):
        assert ec.ions_ec_ms_cm(bottle, ph=7, temp_c=temp_c) == pytest.approx(expected, rel=0.006)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        # Equivalent conductances of the CRC Handbook times concentration, 25 °C, from memory.
        ({"Na": 5, "Cl": 5}, 0.6030),
        ({"Na": 10, "Cl": 10}, 1.1845),
        ({"Na": 50, "Cl": 50}, 5.551),
        ({"K": 5, "NO3": 5}, 0.6921),
        ({"K": 20, "NO3": 20}, 2.647),
        ({"NH4": 10, "Cl": 10}, 1.412),
        ({"NH4": 20, "Cl": 20}, 2.765),
        ({"Ca": 5, "Cl": 10}, 1.203),
        ({"Ca": 25, "Cl": 50}, 5.421),
        ({"Mg": 5, "Cl": 10}, 1.145),
        ({"Mg": 10, "Cl": 20}, 2.200),
        ({"Na": 10, "SO4": 5}, 1.124),
        ({"Na": 50, "SO4": 25}, 4.885),
    ],
)
def test_single_salts_are_within_three_percent_of_the_tables(parts, expected):
    assert ec.ions_ec_ms_cm(parts, ph=7) == pytest.approx(expected, rel=0.03)


def test_strong_salts_at_20_degrees_stay_near_the_handbook():
    # CRC Handbook, electrical conductivity of aqueous solutions, 0.5 % by mass, 20 °C (read); a sanity range
    # far above working strength, printed to 0.1 mS/cm.
    for parts, expected in (
        ({"NH4": 93.5, "Cl": 93.5}, 10.5),
        ({"Ca": 45.05, "Cl": 90.1}, 8.1),
        ({"Mg": 41.5, "SO4": 41.5}, 4.1),
    ):
        assert ec.ions_ec_ms_cm(parts, ph=6, temp_c=20) == pytest.approx(expected, rel=0.05)
    assert ec.ions_ec_ms_cm({"NO3": 79.5}, temp_c=20) == pytest.approx(28.4, rel=0.12)


@pytest.mark.parametrize(
    ("parts", "expected", "temp_c"),
    [
        # CRC Handbook, 0.5 % and 1 % by mass at 20 °C (read).
        ({"NH4": 75.8, "SO4": 37.9}, 7.4, 20),
        ({"NH4": 152.0, "SO4": 76.0}, 14.2, 20),
        ({"Mg": 83.8, "SO4": 83.8}, 7.6, 20),
        # Equivalent conductances of the CRC Handbook times concentration, 25 °C, from memory.
        ({"Mg": 5, "SO4": 5}, 0.844, 25),
        ({"Mg": 10, "SO4": 10}, 1.522, 25),
        ({"Mg": 25, "SO4": 25}, 3.213, 25),
        ({"K": 10, "SO4": 5}, 1.349, 25),
        ({"K": 20, "SO4": 10}, 2.592, 25),
        ({"K": 50, "SO4": 25}, 6.040, 25),
    ],
)
def test_sulfates_are_within_five_percent_of_the_tables(parts, expected, temp_c):
    assert ec.ions_ec_ms_cm(parts, ph=6.5, temp_c=temp_c) == pytest.approx(expected, rel=0.05)


def test_the_standard_lettuce_solution_is_near_its_published_ec():
    # Sonneveld and Voogt, standard solution, EC 2.6 (from memory).
    parts = {"NO3": 19, "NH4": 1.25, "P": 2, "K": 11, "Ca": 4.5, "Mg": 1, "SO4": 1.125}
    assert ec.cations_me_l(parts) == ec.anions_me_l(parts) == 23.25
    assert ec.ions_ec_ms_cm(parts, ph=5.8) == pytest.approx(2.6, rel=0.05)


@pytest.mark.parametrize(("cations", "first", "second"), [(20, 2.00, 2.09), (23.25, 2.33, 2.40)])
def test_the_rules_of_thumb_stay_as_computed(cations, first, second):
    # Regression values of the two rules.
    assert ec.ec_by_rule_ms_cm(cations) == pytest.approx((first, second), abs=0.006)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 20), st.floats(0.5, 8), st.floats(0.2, 4), st.floats(0.05, 3), st.floats(1.05, 3))
def test_ec_rises_with_strength_and_stays_by_the_rule(potassium, calcium, magnesium, phosphorus, factor):
    parts = {"K": potassium, "Ca": calcium, "Mg": magnesium, "P": phosphorus}
    parts["SO4"] = magnesium
    parts["NO3"] = max(potassium + 2 * calcium - phosphorus, 0.1)
    weak = ec.ions_ec_ms_cm(parts, ph=5.8)
    strong = ec.ions_ec_ms_cm({name: amount * factor for name, amount in parts.items()}, ph=5.8)
    assert weak < strong < weak * factor
    assert weak == pytest.approx(ec.ec_by_rule_ms_cm(ec.cations_me_l(parts))[0], rel=0.35)


@given(st.floats(0, 39), st.floats(0.1, 1))
def test_ec_rises_with_temperature(temp_c, more):
    assert ec.temperature_factor(temp_c) < ec.temperature_factor(temp_c + more)
    assert ec.temperature_factor(25) == 1


def test_a_solution_computed_for_another_temperature_is_refused():
    with pytest.raises(AgronomyError, match="25 °C"):
        ec.solution_ec_ms_cm(equilibrium({"K": 5, "Cl": 5}, ph=7, temp_c=15))


def test_impossible_conductivity_is_refused_by_field():
    with pytest.raises(OutOfRange, match="temp_c"):
        ec.temperature_factor(60)
    with pytest.raises(OutOfRange, match="cations_me_l"):
        ec.ec_by_rule_ms_cm(-1)
    with pytest.raises(OutOfRange, match="K"):
        ec.ions_ec_ms_cm({"K": float("nan")})
