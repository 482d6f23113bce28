"""Ratios and availability: definitions, and Steiner's proportions from memory."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import nutrients as n
from garden.agronomy.errors import OutOfRange
from garden.reference.loader import load_reference

STEINER = {"N-NO3": 168.1, "P": 31.0, "K": 273.7, "Ca": 180.4, "Mg": 48.6, "S": 112.2}
amounts = st.dictionaries(
    st.sampled_from(["N-NO3", "N-NH4", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Na"]), st.floats(0.001, 500)
)


def test_steiners_solution_has_steiners_shares():
    # Plant and Soil 15:134-154, 1961: K 35, Ca 45, Mg 20 %; NO3 60, H2PO4 5, SO4 35 % (from memory).
    shares = n.ion_shares(STEINER)
    assert shares.cations == pytest.approx(n.STEINER_SHARES.cations, abs=0.002)
    assert shares.anions == pytest.approx(n.STEINER_SHARES.anions, abs=0.002)


def test_too_much_potassium_is_said_to_hinder_calcium_and_magnesium():
    # Antagonism of cations: common practice, no source.
    found = {item.ratio.code: item for item in n.ratio_findings({"K": 400, "Ca": 80, "Mg": 20})}
    assert found["k-to-ca"].verdict == "above"
    assert found["k-to-ca"].hinders == ("Ca",)
    assert found["k-to-mg"].hinders == ("Mg",)


def test_steiners_solution_raises_no_question():
    assert all(item.verdict == "inside" for item in n.ratio_findings(STEINER))


def test_the_ammonium_share_needs_to_know_the_forms():
    assert n.ammonium_share({"N-NO3": 90, "N-NH4": 10}) == pytest.approx(0.1)
    assert n.ammonium_share({}) == 0
    with pytest.raises(OutOfRange, match="form"):
        n.ammonium_share({"N": 100})
    codes = [item.ratio.code for item in n.ratio_findings({"N-other": 50, "N-NH4": 50})]
    assert "ammonium-share" not in codes


@given(amounts)
def test_shares_add_up_to_one_or_nothing(feed):
    shares = n.ion_shares(feed)
    for group in (shares.cations, shares.anions):
        assert sum(group.values()) == pytest.approx(1) or not any(group.values())
    assert all(item.value >= 0 for item in n.ratio_findings(feed))


@given(amounts, st.floats(0.1, 10))
def test_ratios_do_not_depend_on_strength(feed, factor):
    before = n.ratio_findings(feed)
    after = n.ratio_findings({name: amount * factor for name, amount in feed.items()})
    assert [item.value for item in before] == pytest.approx([item.value for item in after])


def test_iron_fades_where_molybdenum_appears():
    # Qualitative bands, common practice, no source.
    elements = load_reference().elements
    iron, molybdenum = elements["iron"], elements["molybdenum"]
    assert n.availability(5.8, iron.good, iron.fair) == "good"
    assert n.availability(7.4, iron.good, iron.fair) == "poor"
    assert n.availability(5.0, molybdenum.good, molybdenum.fair) == "poor"
    assert n.availability(7.0, molybdenum.good, molybdenum.fair) == "good"


@given(st.floats(3, 10))
def test_availability_falls_outwards(ph):
    order = {"good": 2, "reduced": 1, "poor": 0}
    here = order[n.availability(ph, (5.5, 6.5), (5.0, 7.2))]
    further = ph + 0.2 if ph > 6 else ph - 0.2
    if 3 <= further <= 10:
        assert order[n.availability(further, (5.5, 6.5), (5.0, 7.2))] <= here


def test_impossible_numbers_are_refused():
    with pytest.raises(OutOfRange, match="ph"):
        n.availability(12, (5, 6), (4, 7))
    with pytest.raises(OutOfRange, match="good from"):
        n.availability(6, (4, 6), (5, 7))
    with pytest.raises(OutOfRange, match="K"):
        n.ratio_findings({"K": -1})
