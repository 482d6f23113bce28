"""Acid doses by chemical equilibrium, against published and independently computed values."""

import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy import acid as a
from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.agronomy.water import Water
from garden.reference.loader import load_reference

FL_OZ_PER_100_GAL = 29.5735 / 0.378541  # mL in 1000 L
SULFURIC_93 = a.acid_strength("sulfuric", 93, 1.835)
GRADES = {
    "sulfuric": SULFURIC_93,
    "phosphoric": a.acid_strength("phosphoric", 85, 1.69),
    "nitric": a.acid_strength("nitric", 67, 1.40),
    "citric": a.acid_strength("citric", 100),
    "hydrochloric": a.acid_strength("hydrochloric", 32, 1.16),
}
waters = st.builds(
    lambda me, ph: Water({"Ca": me / 2}, me * 50.04, ph), st.floats(0.5, 7), st.floats(6.8, 8.2)
)


def water(me_l, ph):
    return Water({"Ca": me_l / 2}, me_l * 50.04, ph)


def test_a_fluid_ounce_of_sulfuric_acid_removes_and_adds_what_the_table_says():
    # University of Massachusetts, Adjusting alkalinity with acids, Table 1 (row read in a copied text).
    added = a.acid_added_me_l(FL_OZ_PER_100_GAL, SULFURIC_93.normality)
    assert added * 50.04 == pytest.approx(136, rel=0.005)
    dose = a.after_acid(water(5, 7.5), SULFURIC_93, added / 2)
    assert dose.adds_mg_l["S"] == pytest.approx(43.6, rel=0.005)


def test_the_worked_example_from_250_to_150_is_met_within_its_rounding():
    # The same page: 23 mL per 100 gal with a printed factor that is rounded up (copied text).
    ml = a.acid_ml_per_m3((250 - 150) / 50.04, SULFURIC_93.normality) * 0.378541
    assert ml == pytest.approx(23, rel=0.06)


@pytest.mark.parametrize(
    ("code", "percent", "density", "normality"),
    [("sulfuric", 35, 1.26, 8.99), ("nitric", 67, 1.40, 14.89), ("phosphoric", 85, 1.69, 14.66)],
)
def test_normality_follows_strength_and_density(code, percent, density, normality):
    # Regression values by definition.
    strength = a.acid_strength(code, percent, density)
    assert strength.normality == pytest.approx(normality, rel=0.005)
    again = a.strength_from_normality(code, normality, density)
    assert again.percent == pytest.approx(percent, rel=0.005)


@pytest.mark.parametrize(
    ("code", "percent", "density", "ml"),
    [
        ("sulfuric", 35, 1.26, 111.2), ("nitric", 67, 1.40, 67.2), ("phosphoric", 85, 1.69, 68.2),
        ("sulfuric", 93, 1.835, 28.7), ("sulfuric", 98, 1.84, 27.2), ("phosphoric", 75, 1.58, 82.7),
        ("hydrochloric", 32, 1.16, 98.2),
    ],
)  # fmt: skip
def test_millilitres_for_one_milliequivalent_stay_as_computed(code, percent, density, ml):
    # Regression values by definition.
    assert a.acid_ml_per_m3(1, a.acid_strength(code, percent, density).normality) == pytest.approx(
        ml, rel=0.005
    )


def test_factors_of_two_acids_agree_with_the_florida_table():
    # UF/IFAS FAWN Table A-2-1 (read): sulfuric 93 % 8.7, hydrochloric 32 % 29.6; their ratio is 3.40.
    ratio = SULFURIC_93.normality / GRADES["hydrochloric"].normality
    assert ratio == pytest.approx(29.6 / 8.7, rel=0.01)


@pytest.mark.parametrize(("me_l", "ph", "acid", "end"), [(3.0, 7.5, 2.4, 5.69), (4.0, 7.8, 3.2, 5.71)])
def test_neutralising_four_fifths_ends_at_ph_5_7(me_l, ph, acid, end):
    # Computed once with PHREEQC apart from this program (regression); closed water.
    dose = a.after_acid(Water({}, me_l * 50.04, ph), GRADES["hydrochloric"], acid)
    assert dose.closed_ph == pytest.approx(end, abs=0.05)


def test_the_ph_climbs_back_to_about_8_when_the_tank_airs():
    # Computed once with PHREEQC (regression): 0.8 me/L left, in balance with the air.
    dose = a.after_acid(Water({}, 4.0 * 50.04, 7.8), GRADES["hydrochloric"], 3.2)
    assert dose.aired_ph == pytest.approx(8.1, abs=0.1)


@pytest.mark.parametrize(("me_l", "ph", "target", "acid"), [(3.0, 7.5, 5.8, 2.30), (5.0, 7.6, 6.0, 3.37)])
@pytest.mark.parametrize("code", ["sulfuric", "nitric", "hydrochloric"])
def test_strong_acids_to_a_ph_agree_with_the_simple_balance(me_l, ph, target, acid, code):
    # The simple carbonate balance, pK 6.35 (regression), leaves activities out: 4 % apart.
    dose = a.acid_dose(water(me_l, ph), GRADES[code], target)
    assert dose.equivalents_me_l == pytest.approx(acid, rel=0.04)
    assert dose.closed_ph == pytest.approx(target, abs=0.001)


def test_what_acids_add_stays_as_computed():
    # Regression values of the weights per equivalent, 2.4 me/L.
    start = water(4, 7.6)
    assert a.after_acid(start, SULFURIC_93, 1.2).adds_mg_l["S"] == pytest.approx(38.5, abs=0.1)
    assert a.after_acid(start, GRADES["phosphoric"], 2.4).adds_mg_l["P"] == pytest.approx(74.3, abs=0.1)
    assert a.after_acid(start, GRADES["nitric"], 2.4).adds_mg_l["N"] == pytest.approx(33.6, abs=0.1)
    assert a.after_acid(start, GRADES["citric"], 0.8).adds_mg_l == {}


def test_citric_acid_gives_between_two_and_three_equivalents():
    # 2.2 of 3 between pH 5.5 and 6, 87.3 g/m³ for each me/L; 64.0 if all three count (regression values).
    plain = Water({"Na": 3.0}, 3.0 * 50.04, 7.5)
    strong = a.acid_dose(plain, GRADES["nitric"], 5.7).equivalents_me_l
    dose = a.acid_dose(plain, GRADES["citric"], 5.7)
    assert dose.ml_per_m3 is None
    assert dose.g_per_m3 / strong == pytest.approx(87.3, rel=0.05)
    full = a.acid_strength("citric", 100)
    assert 1000 / (full.mol_per_kg * 3) == pytest.approx(64.0, rel=0.005)


def test_every_caution_code_has_its_words_and_acids_their_grades():
    reference = load_reference()
    for kind in a.ACIDS.values():
        assert set(kind.cautions) <= set(reference.acid_cautions)
    used = {code for kind in a.ACIDS.values() for code in kind.cautions}
    assert used == set(reference.acid_cautions)
    for grade in reference.acids.values():
        assert a.acid_strength(grade.acid, grade.percent, grade.density_g_ml).mol_per_kg > 0


@settings(max_examples=40, deadline=None)
@given(waters, st.sampled_from(sorted(GRADES)), st.floats(4.5, 6.5))
def test_the_dose_reaches_its_target_and_adding_it_gives_the_same(start, code, target):
    dose = a.acid_dose(start, GRADES[code], target)
    assert dose.mmol_l > 0
    assert dose.closed_ph == pytest.approx(target, abs=0.001)
    again = a.after_acid(start, GRADES[code], dose.mmol_l)
    assert again.closed_ph == pytest.approx(target, abs=0.02)
    assert 0 <= dose.alkalinity_left_me_l <= start.alkalinity_me_l * 1.02
    assert dose.aired_ph >= dose.closed_ph - 0.05
    if dose.ml_per_m3 is not None:
        assert dose.ml_per_10_l == pytest.approx(dose.ml_per_m3 / 100)


@settings(max_examples=30, deadline=None)
@given(waters, st.sampled_from(sorted(GRADES)), st.floats(4.5, 6.0), st.floats(0.05, 0.8))
def test_a_lower_ph_or_harder_water_takes_more_acid(start, code, target, step):
    less = a.acid_dose(start, GRADES[code], target + step).mmol_l
    more = a.acid_dose(start, GRADES[code], target).mmol_l
    assert more > less
    harder = Water({"Ca": start.parts_mmol_l["Ca"] * 1.5}, start.alkalinity_mg_l * 1.5, start.ph)
    assert a.acid_dose(harder, GRADES[code], target).mmol_l > more


def test_threads_get_the_same_answers_as_one_alone():
    jobs = [(water(1 + n / 10, 7.5), 5.5 + n / 40) for n in range(20)]
    alone = [a.acid_dose(start, SULFURIC_93, target).mmol_l for start, target in jobs]
    from garden.agronomy import solution

    solution._solved.cache_clear()
    found = [0.0] * len(jobs)

    def work(offset):
        for index in range(offset, len(jobs), 4):
            start, target = jobs[index]
            found[index] = a.acid_dose(start, SULFURIC_93, target).mmol_l

    threads = [threading.Thread(target=work, args=(offset,)) for offset in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == pytest.approx(alone, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: a.acid_strength("lemon", 5), "known are sulfuric"),
        (lambda: a.acid_strength("nitric", 0, 1.1), "percent"),
        (lambda: a.acid_strength("nitric", 60, 3), "density_g_ml"),
        (lambda: a.acid_strength("citric", 100).normality, "only be weighed"),
        (lambda: a.acid_dose(water(3, 7.5), SULFURIC_93, 3), "target_ph"),
        (lambda: a.acid_dose(water(3, 6.5), SULFURIC_93, 7.0), "acid cannot raise it"),
        (lambda: a.after_acid(water(3, 7.5), SULFURIC_93, -1), "mmol_l"),
        (lambda: a.acid_ml_per_m3(1, 0), "normality"),
    ],
)
def test_an_impossible_acid_is_refused_with_what_to_do(call, message):
    with pytest.raises(AgronomyError, match=message):
        call()


def test_a_ph_above_the_water_names_its_field():
    with pytest.raises(OutOfRange) as caught:
        a.acid_dose(water(3, 6.5), SULFURIC_93, 7.0)
    assert caught.value.field == "target_ph"
