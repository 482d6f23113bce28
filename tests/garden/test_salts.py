"""Formulas to elements. Contents were computed independently from IUPAC atomic masses (regression values)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import salts
from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.agronomy.labels import totals
from garden.reference.loader import load_reference

# formula: g/mol and percent by weight; regression values from IUPAC masses, they agree with handbook values.
CONTENTS = {
    "Ca(NO3)2·4H2O": (236.15, {"Ca": 16.97, "N": 11.86}),
    "5Ca(NO3)2·NH4NO3·10H2O": (1080.64, {"Ca": 18.54, "N": 15.55}),
    "KNO3": (101.10, {"K": 38.67, "N": 13.85}),
    "KH2PO4": (136.09, {"K": 28.73, "P": 22.76}),
    "K2SO4": (174.26, {"K": 44.87, "S": 18.40}),
    "MgSO4·7H2O": (246.47, {"Mg": 9.86, "S": 13.01}),
    "Mg(NO3)2·6H2O": (256.41, {"Mg": 9.48, "N": 10.93}),
    "NH4H2PO4": (115.03, {"N": 12.18, "P": 26.93}),
    "CaCl2·2H2O": (147.01, {"Ca": 27.26, "Cl": 48.23}),
    "H3BO3": (61.83, {"B": 17.48}),
    "MnSO4·H2O": (169.02, {"Mn": 32.51}),
    "MnCl2·4H2O": (197.91, {"Mn": 27.76}),
    "ZnSO4·7H2O": (287.55, {"Zn": 22.74}),
    "CuSO4·5H2O": (249.69, {"Cu": 25.45}),
    "Na2MoO4·2H2O": (241.96, {"Mo": 39.66}),
    "CO(NH2)2": (60.06, {"N": 46.65}),
    "Na2B4O7·10H2O": (381.36, {"B": 11.34}),
    "C10H12N2O8FeNa": (367.05, {"Fe": 15.22, "Na": 6.26}),
}


@pytest.mark.parametrize(("formula", "expected"), CONTENTS.items())
def test_a_salt_holds_what_its_formula_says(formula, expected):
    mass, percents = expected
    assert salts.molar_mass_g(formula) == pytest.approx(mass, abs=0.02)
    shares = salts.element_share(formula)
    for element, percent in percents.items():
        assert 100 * shares[element] == pytest.approx(percent, abs=0.021)


@pytest.mark.parametrize(
    ("oxide", "element", "factor"),
    [
        # From IUPAC masses (regression); 0.44 and 0.83 are printed in extension texts (read in a copy).
        ("P2O5", "P", 0.43642), ("K2O", "K", 0.83015), ("CaO", "Ca", 0.71469), ("MgO", "Mg", 0.60304),
        ("SO3", "S", 0.40050), ("NO3", "N", 0.22590), ("NH4", "N", 0.77649), ("SO4", "S", 0.33379),
        ("PO4", "P", 0.32614), ("CaCO3", "Ca", 0.40043),
    ],
)  # fmt: skip
def test_oxide_factors_follow_the_atomic_masses(oxide, element, factor):
    assert salts.element_in_oxide(oxide, element) == pytest.approx(factor, abs=1e-4)


def test_fertiliser_calcium_nitrate_tells_its_ammonium_apart():
    # Regression values from IUPAC masses: N 15.55 %, of it ammonium 1.30 %.
    content = salts.salt_content_mg_g("5Ca(NO3)2·NH4NO3·10H2O", {"Ca": 5, "NO3": 11, "NH4": 1})
    assert content["N-NH4"] == pytest.approx(12.96, abs=0.05)
    assert content["N-NO3"] + content["N-NH4"] == pytest.approx(155.5, abs=0.1)


def test_two_milligrams_of_iron_from_edta_bring_less_than_one_of_sodium():
    # Regression value from the masses of NaFeEDTA.
    shares = salts.element_share("C10H12N2O8FeNa")
    assert 2 * shares["Na"] / shares["Fe"] == pytest.approx(0.82, abs=0.01)


@given(st.sampled_from(sorted(CONTENTS)))
def test_shares_of_a_formula_add_up_to_one(formula):
    assert sum(salts.element_share(formula).values()) == pytest.approx(1)


@given(st.sampled_from(sorted(CONTENTS)), st.floats(0.1, 100))
def test_content_grows_in_step_with_purity(formula, purity):
    pure = salts.salt_content_mg_g(formula, {})
    part = salts.salt_content_mg_g(formula, {}, purity_percent=purity)
    for element, amount in part.items():
        assert amount == pytest.approx(pure[element] * purity / 100)


def test_the_salts_of_the_shop_close_their_charges_and_hold_their_ions():
    for salt in load_reference().salts.values():
        if salt.formula is None:
            continue
        assert salts.ions_charge(salt.ions) == 0, salt.code
        content = salts.salt_content_mg_g(salt.formula, salt.ions, urea_n=salt.urea_n)
        assert all(amount > 0 for amount in content.values())
        assert totals(content).get("N", 0) == pytest.approx(
            salts.element_share(salt.formula).get("N", 0) * 1000
        )


@pytest.mark.parametrize("formula", ["", "Xx2", "Ca(NO3", "water", "H2O; import os", "4"])
def test_a_formula_that_is_none_is_refused_and_shown_how(formula):
    with pytest.raises(salts.FormulaError, match="Ca\\(NO3\\)2·4H2O"):
        salts.molar_mass_g(formula)


def test_impossible_salts_are_refused():
    with pytest.raises(AgronomyError, match="known are Ca"):
        salts.salt_content_mg_g("KNO3", {"Nitrate": 1})
    with pytest.raises(AgronomyError, match="1 atoms of N"):
        salts.salt_content_mg_g("KNO3", {"NO3": 2})
    with pytest.raises(OutOfRange):
        salts.salt_content_mg_g("KNO3", {}, purity_percent=0)
    with pytest.raises(AgronomyError, match="holds no P"):
        salts.element_in_oxide("K2O", "P")
