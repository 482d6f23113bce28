"""Products in water: profiles, EC, pH and what falls out, against published recipes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.agronomy.mix import (
    Product,
    combined_product,
    concentrates_meet,
    label_product,
    mix_products,
    salt_product,
)
from garden.agronomy.water import Water, water_from_analysis
from garden.reference.loader import load_reference

SALTS = {
    code: salt_product(code, salt.formula, salt.ions, urea_n=salt.urea_n)
    for code, salt in load_reference().salts.items()
    if salt.formula
}
# Hoagland and Arnon, Circular 347, 1950, solution 1 in grams per litre (recipe read in a copy, computed).
HOAGLAND = [
    (SALTS["monopotassium-phosphate"], 0.1361),
    (SALTS["potassium-nitrate"], 0.5055),
    (SALTS["calcium-nitrate-tetrahydrate"], 1.1807),
    (SALTS["magnesium-sulfate"], 0.4929),
]
# Steiner, Plant and Soil 15:134-154, 1961 (proportions from memory), grams computed.
STEINER = [
    (SALTS["monopotassium-phosphate"], 0.1361),
    (SALTS["calcium-nitrate-tetrahydrate"], 1.0627),
    (SALTS["potassium-nitrate"], 0.3033),
    (SALTS["potassium-sulfate"], 0.2614),
    (SALTS["magnesium-sulfate"], 0.4929),
]
TAP = water_from_analysis({"Ca": 60, "Mg": 10, "Na": 20, "Cl": 30, "SO4": 40}, ph=7.6, alkalinity_mg_l=150)


def test_hoagland_gives_its_published_profile():
    # Circular 347, mg/L as quoted (read in a copy).
    made = mix_products(Water(), HOAGLAND).elements_mg_l
    expected = {"N": 210, "P": 31, "K": 235, "Ca": 200, "Mg": 48.6, "S": 64}
    for element, mg_l in expected.items():
        assert made[element] == pytest.approx(mg_l, abs=0.5)


def test_hoagland_trace_elements_are_as_published():
    # Circular 347: mg of salt per litre, and mg/L of element (read in a copy).
    made = mix_products(
        Water(),
        [
            (SALTS["boric-acid"], 0.00286), (SALTS["manganese-chloride"], 0.00181),
            (SALTS["zinc-sulfate"], 0.00022), (SALTS["copper-sulfate"], 0.00008),
        ],
    ).elements_mg_l  # fmt: skip
    for element, mg_l in {"B": 0.50, "Mn": 0.50, "Zn": 0.05, "Cu": 0.02, "Cl": 0.65}.items():
        assert made[element] == pytest.approx(mg_l, abs=0.005)


def test_steiner_closes_its_charges_and_gives_its_profile():
    # Steiner 1961 and later, from memory; charge balance computed.
    made = mix_products(Water(), STEINER)
    for element, mg_l in {"N": 168, "P": 31, "K": 274, "Ca": 180, "Mg": 48.6, "S": 112}.items():
        assert made.elements_mg_l[element] == pytest.approx(mg_l, abs=1)
    assert made.cations_me_l == pytest.approx(20.0, abs=0.01)
    assert made.anions_me_l == pytest.approx(20.0, abs=0.01)


@pytest.mark.parametrize(("recipe", "by_phreeqc"), [(HOAGLAND, 2.17), (STEINER, 2.11)])
def test_ec_of_known_recipes_is_what_rules_and_phreeqc_say(recipe, by_phreeqc):
    # Rules of thumb give 2.00 and 2.09 for 20 me/L; PHREEQC run apart from this program (regression).
    ec = mix_products(Water(), recipe).ec_ms_cm
    assert ec == pytest.approx(by_phreeqc, rel=0.01)
    assert ec == pytest.approx(2.09, abs=0.2)


def test_hoagland_from_pure_salts_is_slightly_acid():
    # Monopotassium phosphate alone makes a solution of about pH 4.5 to 5 (textbook chemistry, from memory).
    assert 4.5 < mix_products(Water(), HOAGLAND).ph < 5.2


def test_a_label_without_forms_of_nitrogen_says_what_was_assumed():
    feed = label_product("all-round", {"N": 20, "P2O5": 20, "K2O": 20}, liquid=False)
    made = mix_products(TAP, [(feed, 1.0)])
    assert "other-nitrogen-closes-charge-then-ammonium-nitrate" in made.assumptions
    assert made.elements_mg_l["N"] == pytest.approx(200)
    assert made.cations_me_l == pytest.approx(made.anions_me_l, rel=0.07)


def test_urea_feeds_without_conducting():
    plain = mix_products(TAP, [])
    fed = mix_products(TAP, [(SALTS["urea"], 0.2)])
    assert fed.ec_ms_cm == pytest.approx(plain.ec_ms_cm)
    assert fed.elements_mg_l["N"] == pytest.approx(93.3, abs=0.1)  # 46.65 % N, regression value
    assert "urea-does-not-conduct" in fed.assumptions


def test_concentrates_that_must_not_meet_are_told():
    # Calcium with sulfate or phosphate in one stock falls out: common practice in every two-bottle feed.
    calcium, epsom = SALTS["calcium-nitrate"], SALTS["magnesium-sulfate"]
    phosphate, nitrate = SALTS["monopotassium-phosphate"], SALTS["potassium-nitrate"]
    assert concentrates_meet([(calcium, 100), (epsom, 50)])[0].solid == "gypsum"
    with_phosphate = {risk.solid for risk in concentrates_meet([(calcium, 100), (phosphate, 20)])}
    assert "calcium-phosphate" in with_phosphate
    assert concentrates_meet([(epsom, 50), (nitrate, 50), (phosphate, 20)]) == ()
    assert concentrates_meet([(calcium, 100), (nitrate, 50)]) == ()


def test_the_same_salts_at_feed_strength_stay_clear():
    risks = mix_products(Water(), HOAGLAND).risks
    assert all(risk.level != "likely" for risk in risks)


def test_every_solid_has_its_words():
    from garden.agronomy.solution import SOLIDS

    assert set(SOLIDS) == set(load_reference().solids)


def test_hard_alkaline_water_warns_of_lime():
    hard = water_from_analysis({"Ca": 140, "Mg": 20, "Cl": 60}, ph=8.2, alkalinity_mg_l=320)
    assert "lime" in {risk.solid for risk in mix_products(hard, []).risks}


doses = st.lists(
    st.tuples(st.sampled_from(sorted(SALTS)), st.floats(0, 1.5)), max_size=6, unique_by=lambda pair: pair[0]
)


@settings(max_examples=60, deadline=None)
@given(doses, st.floats(5, 300), st.floats(6.5, 8.3))
def test_any_mix_keeps_its_mass_and_answers_in_physical_numbers(chosen, alkalinity, ph):
    water = water_from_analysis({"Ca": alkalinity * 0.4}, ph=ph, alkalinity_mg_l=alkalinity)
    made = mix_products(water, [(SALTS[code], dose) for code, dose in chosen])
    for element in ("P", "K", "Mg", "S"):
        brought = sum(SALTS[code].content_mg.get(element, 0) * dose for code, dose in chosen)
        assert made.elements_mg_l.get(element, 0) == pytest.approx(brought, abs=1e-6)
    assert 2 < made.ph < 12
    assert 0 < made.ec_ms_cm < 20
    assert all(amount >= 0 for amount in made.parts_mmol_l.values())


@settings(max_examples=25, deadline=None)
@given(st.floats(0.2, 2))
def test_ec_rises_with_the_dose(strength):
    weak = mix_products(TAP, [(product, dose * strength) for product, dose in HOAGLAND]).ec_ms_cm
    strong = mix_products(TAP, [(product, dose * strength * 1.2) for product, dose in HOAGLAND]).ec_ms_cm
    assert strong > weak


def test_two_halves_of_a_feed_dosed_together_are_one_product():
    first = Product("a", {"Ca": 40, "N-NO3": 28})
    second = Product("b", {"K": 60, "P": 10})
    both = combined_product("a-and-b", [(first, 1), (second, 3)])
    made = mix_products(TAP, [(both, 4)]).elements_mg_l
    apart = mix_products(TAP, [(first, 1), (second, 3)]).elements_mg_l
    assert made == pytest.approx(apart)
    with pytest.raises(AgronomyError, match="at least one product"):
        combined_product("nothing", [])


def test_water_without_alkalinity_cannot_hold_a_high_ph():
    soft = water_from_analysis({"Ca": 10, "Cl": 17.7}, ph=9.3, alkalinity_mg_l=0.1)
    assert mix_products(soft, []).ph == pytest.approx(7, abs=0.5)


def test_impossible_mixes_are_refused():
    with pytest.raises(OutOfRange, match="dose of potassium-nitrate"):
        mix_products(TAP, [(SALTS["potassium-nitrate"], -1)])
    with pytest.raises(AgronomyError, match="all in mL or all in grams"):
        concentrates_meet([(SALTS["urea"], 1), (Product("liquid", {"K": 50}), 1)])
