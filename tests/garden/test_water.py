"""Water analysis against definitions and published limits; sources are named at each check."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from garden.agronomy import water as w
from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.reference.loader import load_reference

waters = st.builds(
    lambda ca, mg, na, cl, so4, alkalinity, ph: w.water_from_analysis(
        {"Ca": ca, "Mg": mg, "Na": na, "Cl": cl, "SO4": so4}, ph=ph, alkalinity_mg_l=alkalinity
    ),
    st.floats(0, 150), st.floats(0, 40), st.floats(0, 100), st.floats(0, 150), st.floats(0, 150),
    st.floats(5, 350), st.floats(6.5, 8.2),
)  # fmt: skip


def test_bicarbonate_and_alkalinity_follow_their_definition():
    # Definition, 1 me/L = 50.04 mg/L CaCO3 = 61.02 mg/L HCO3.
    assert w.bicarbonate_mg_l(150) == pytest.approx(182.9, abs=0.1)
    assert w.alkalinity_from_bicarbonate_mg_l(244) == pytest.approx(200, abs=0.3)
    assert w.water_from_analysis({"HCO3": 244}, ph=7.5).alkalinity_mg_l == pytest.approx(200, abs=0.3)


def test_hardness_follows_calcium_and_magnesium():
    # Regression value of the definition (factors 2.497 and 4.118).
    assert w.hardness_mg_l(60, 15) == pytest.approx(211.6, abs=0.3)
    assert w.german_degrees(178.5) == pytest.approx(10)  # 17.85 mg/L each, from memory
    assert w.french_degrees(178.5) == pytest.approx(17.85)  # 10 mg/L each, from memory


def test_the_drinking_water_limit_of_nitrate_as_nitrogen():
    # 50 mg/L NO3 of the European Union's drinking-water rules; regression value of the conversion.
    assert w.nitrate_nitrogen_mg_l(50) == pytest.approx(11.3, abs=0.05)
    assert w.elements_mg_l(w.water_from_analysis({"NO3": 50}, ph=7))["N-NO3"] == pytest.approx(11.3, abs=0.05)


def test_an_analysis_whose_ions_add_up_is_told_so():
    # Ca 2, Mg 0.5, Na 0.5 me/L against HCO3 2, Cl 0.5, SO4 0.5 me/L: a balance by definition.
    sound = w.water_from_analysis(
        {"Ca": 40.08, "Mg": 6.08, "Na": 11.49, "Cl": 17.73, "SO4": 24.02}, ph=7.6, alkalinity_mg_l=100.08
    )
    balance = w.charge_balance(sound)
    assert balance.verdict == "adds-up"
    assert balance.cations_me_l == pytest.approx(3.0, abs=0.005)
    assert balance.anions_me_l == pytest.approx(3.0, abs=0.005)


def test_ions_are_told_in_milliequivalents():
    # Definition: 20.04 mg Ca, 22.99 mg Na, 35.45 mg Cl, 50.04 mg CaCO3 to the milliequivalent.
    water = w.water_from_analysis(
        {"Ca": 40.08, "Na": 22.99, "Cl": 35.45, "P": 30.97, "B": 1}, ph=7.5, alkalinity_mg_l=100.08
    )
    assert w.ions_me_l(water) == pytest.approx({"Ca": 2, "Na": 1, "Cl": 1, "H2PO4": 1, "HCO3": 2}, rel=1e-3)


@pytest.mark.parametrize(
    ("calcium", "alkalinity", "verdict"),
    [
        (40.08, 100.08, "adds-up"),
        (46, 100.08, "doubtful"),
        (80, 100.08, "does-not-add-up"),
        (0, 0, "no-ions"),
    ],
)
def test_the_charge_balance_is_judged_as_laboratories_do(calcium, alkalinity, verdict):
    # Criteria of Standard Methods 1030 E from memory; the step up to 10 % is common practice, no source.
    water = w.water_from_analysis({"Ca": calcium}, ph=7.5, alkalinity_mg_l=alkalinity)
    assert w.charge_balance(water).verdict == verdict


def test_bicarbonate_and_alkalinity_that_contradict_are_refused():
    with pytest.raises(OutOfRange, match="about 200 mg/L"):
        w.water_from_analysis({"HCO3": 244}, ph=7.5, alkalinity_mg_l=100)


def test_reverse_osmosis_water_thins_in_proportion():
    assert w.share_of_pure_water(120, 60) == pytest.approx(0.5)
    assert w.share_of_pure_water(100, 30, pure=10) == pytest.approx(70 / 90)


@settings(max_examples=40, deadline=None)
@given(waters, waters, st.floats(0, 1))
def test_blending_keeps_every_ion_and_the_ph_between_reason(first, second, share):
    mixed = w.blend(first, second, share)
    for part in {**first.parts_mmol_l, **second.parts_mmol_l}:
        expected = (1 - share) * first.parts_mmol_l.get(part, 0) + share * second.parts_mmol_l.get(part, 0)
        assert mixed.parts_mmol_l.get(part, 0) == pytest.approx(expected)
    assert mixed.alkalinity_mg_l == pytest.approx(
        (1 - share) * first.alkalinity_mg_l + share * second.alkalinity_mg_l
    )
    assert min(first.ph, second.ph) - 0.3 <= mixed.ph <= max(first.ph, second.ph) + 0.3


@settings(max_examples=40, deadline=None)
@given(waters)
def test_the_state_of_a_water_holds_its_ph_and_alkalinity_and_no_charge(water):
    state = w.water_solution(water)
    assert state.ph == pytest.approx(water.ph, abs=1e-6)
    assert state.charge_me_l == pytest.approx(0, abs=1e-3)
    assume(water.ph < 8)
    assert state.carbonate_me_l == pytest.approx(water.alkalinity_me_l, rel=0.03, abs=0.01)


def test_pure_water_is_neutral():
    assert w.water_solution(w.Water()).ph == pytest.approx(7.0, abs=0.01)


def test_published_limits_stand_side_by_side():
    # FAO 29 Table 1 (read in a copy): chloride 4 and 10 me/L; Oklahoma State: under 140 mg/L (read);
    # Mattson and Peters: under 70 mg/L, ideal (read). McGehee and Raudales 2023: chlorine (read).
    limits = load_reference().water_limits.values()
    found = {
        item.limit.code: item.standing
        for item in w.against_limits({"chloride_mg_l": 141, "free_chlorine_mg_l": 2}, limits)
    }
    assert found == {
        "chloride-fao": "fine",
        "chloride-osu": "some-care",
        "chloride-ideal": "some-care",
        "chlorine-lettuce": "severe",
    }
    assert {limit.fine for limit in limits if limit.quantity == "ec_ms_cm"} == {0.7}


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: w.water_from_analysis({"Gold": 1}, ph=7), "known are Ca"),
        (lambda: w.water_from_analysis({"Ca": -1}, ph=7), "Ca is -1"),
        (lambda: w.water_from_analysis({}, ph=3), "ph is 3"),
        (lambda: w.blend(w.Water(), w.Water(), 1.5), "second_share"),
        (lambda: w.share_of_pure_water(50, 60), "target"),
        (lambda: w.hardness_mg_l(float("nan"), 0), "calcium_mg_l"),
    ],
)
def test_an_impossible_water_is_refused_by_name(call, message):
    with pytest.raises(AgronomyError, match=message):
        call()
