"""The recipe solver: never worse than rounding or the best single product, and quick."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from garden.agronomy.errors import AgronomyError
from garden.agronomy.mix import Product, salt_product
from garden.agronomy.recipe import ShelfItem, best_addition, solve_recipe
from garden.reference.loader import load_reference

REFERENCE = load_reference()
SALTS = {
    code: salt_product(code, salt.formula, salt.ions, urea_n=salt.urea_n)
    for code, salt in REFERENCE.salts.items()
    if salt.formula
}
ELEMENTS = ("N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
STEINER_SALTS = (
    "monopotassium-phosphate", "calcium-nitrate-tetrahydrate", "potassium-nitrate", "potassium-sulfate",
    "magnesium-sulfate",
)  # fmt: skip


def shelf(*codes, step=0.1):
    return [ShelfItem(SALTS[code], step, 5) for code in codes]


def misfit(target, reached):
    return sum(((reached.get(e, 0) - mg) / (mg if mg > 0 else 50)) ** 2 for e, mg in target.items())


def test_steiner_is_found_from_its_five_salts():
    # Grams per litre that close the solution of Steiner 1961 (proportions from memory), times 100 L.
    target = REFERENCE.recipes["steiner-universal"].mg_l
    found = solve_recipe({}, shelf(*STEINER_SALTS), target, volume_l=100)
    expected = (13.61, 106.27, 30.33, 26.14, 49.29)
    for code, grams in zip(STEINER_SALTS, expected, strict=True):
        assert found.doses[code] == pytest.approx(grams, abs=0.5)
    assert all(abs(miss.percent) < 1 for miss in found.misses)


def test_what_the_water_brings_is_counted_first():
    target = {"Ca": 120, "N": 100}
    hard = solve_recipe({"Ca": 80}, shelf("calcium-nitrate", "potassium-nitrate"), target, volume_l=100)
    pure = solve_recipe({}, shelf("calcium-nitrate", "potassium-nitrate"), target, volume_l=100)
    assert hard.doses["calcium-nitrate"] < pure.doses["calcium-nitrate"]
    assert hard.reached_mg_l["Ca"] == pytest.approx(120, rel=0.1)


def test_doses_are_whole_steps_of_the_measure_and_within_the_most():
    items = [ShelfItem(SALTS["potassium-nitrate"], 5, 0.3), ShelfItem(SALTS["magnesium-sulfate"], 2.5, 5)]
    found = solve_recipe({}, items, {"K": 300, "Mg": 40}, volume_l=60)
    assert found.doses["potassium-nitrate"] % 5 == pytest.approx(0)
    assert found.doses["potassium-nitrate"] <= 0.3 * 60
    steps = found.doses["magnesium-sulfate"] / 2.5
    assert steps == pytest.approx(round(steps))


def test_what_is_missed_is_told_by_how_much():
    found = solve_recipe({}, shelf("potassium-nitrate"), {"K": 200, "P": 31}, volume_l=100)
    missed = {miss.element: miss for miss in found.misses}
    assert missed["P"].difference_mg_l == pytest.approx(-31)
    assert missed["P"].percent == pytest.approx(-100)


def test_the_product_that_helps_most_is_named():
    target = REFERENCE.recipes["steiner-universal"].mg_l
    have = shelf("monopotassium-phosphate", "potassium-nitrate", "magnesium-sulfate", "potassium-sulfate")
    candidates = shelf("calcium-nitrate", "urea", "zinc-sulfate", "boric-acid")
    code, left = best_addition({}, have, target, candidates)
    assert code == "calcium-nitrate"
    assert left < solve_recipe({}, have, target, volume_l=1e5).misfit
    assert best_addition({}, shelf(*STEINER_SALTS), target, shelf("urea", "boric-acid")) is None


def test_an_empty_shelf_is_told_what_to_begin_with():
    code, _ = best_addition({}, [], {"N": 100, "K": 280}, shelf("potassium-nitrate", "boric-acid"))
    assert code == "potassium-nitrate"
    assert best_addition({}, shelf("urea"), {"N": 100}, shelf("urea")) is None


def test_a_heavier_weight_comes_nearer():
    items = shelf("potassium-nitrate")
    target = {"N": 100, "K": 100}
    even = solve_recipe({}, items, target, volume_l=1000)
    heavy = solve_recipe({}, items, target, volume_l=1000, weights={"N": 10})
    assert abs(heavy.reached_mg_l["N"] - 100) < abs(even.reached_mg_l["N"] - 100)


contents = st.dictionaries(
    st.sampled_from([*ELEMENTS[1:], "N-NO3"]), st.floats(0.01, 200), min_size=1, max_size=5
)
shelves = st.lists(
    st.tuples(contents, st.sampled_from([0.1, 0.5, 1, 5, 25]), st.floats(0, 10)), min_size=1, max_size=8
)
targets = st.dictionaries(
    st.sampled_from(ELEMENTS), st.just(0.0) | st.floats(0.01, 400), min_size=1, max_size=8
)


def built(drawn):
    return [ShelfItem(Product(f"p{n}", content), step, most) for n, (content, step, most) in enumerate(drawn)]


@settings(max_examples=120, deadline=None)
@given(shelves, targets, st.floats(1, 500))
def test_never_worse_than_rounding_or_any_single_product_and_never_negative(drawn, target, volume):
    items = built(drawn)
    found = solve_recipe({}, items, target, volume_l=volume)
    assert found.misfit == pytest.approx(misfit(target, found.reached_mg_l), rel=1e-6, abs=1e-9)
    assert found.exact_misfit <= found.misfit + 1e-4 * (1 + found.misfit)
    for item in items:
        dose = found.doses[item.product.code]
        assert np.isfinite(dose)
        assert 0 <= dose <= item.max_per_l * volume * (1 + 1e-9)

    def rounded(doses):
        reached = {}
        for item in items:
            most = np.floor(item.max_per_l * volume / item.step + 1e-9)
            steps = min(np.round(doses[item.product.code] / item.step), most)
            for name, mg in item.product.content_mg.items():
                name = "N" if name == "N-NO3" else name
                reached[name] = reached.get(name, 0) + mg * steps * item.step / volume
        return misfit(target, reached)

    best = found.misfit * (1 - 1e-9) - 1e-9
    assert best <= rounded(found.exact_doses)
    assert best <= rounded(dict.fromkeys(found.doses, 0.0))
    for item in items:
        for tenth in range(1, 11):
            alone = dict.fromkeys(found.doses, 0.0)
            alone[item.product.code] = item.max_per_l * volume * tenth / 10
            assert best <= rounded(alone)


@settings(max_examples=60, deadline=None)
@given(shelves, shelves, targets)
def test_no_other_candidate_would_have_helped_more(have, offered, target):
    items = built(have)
    candidates = [
        ShelfItem(Product(f"c{n}", item.product.content_mg), item.step, item.max_per_l)
        for n, item in enumerate(built(offered))
    ]
    found = best_addition({}, items, target, candidates)
    alone = solve_recipe({}, items, target, volume_l=1).exact_misfit
    with_each = [solve_recipe({}, [*items, item], target, volume_l=1).exact_misfit for item in candidates]
    left = found[1] if found else alone
    assert left <= min([0.95 * alone, *with_each]) * (1 + 1e-6) + 1e-6 or (
        found is None and min(with_each) >= 0.95 * alone - 1e-6
    )


@settings(max_examples=40, deadline=None)
@given(shelves, targets)
def test_a_finer_measure_is_never_much_worse(drawn, target):
    items = built(drawn)
    fine = [ShelfItem(item.product, item.step / 1000, item.max_per_l) for item in items]
    coarse = solve_recipe({}, items, target, volume_l=20)
    finer = solve_recipe({}, fine, target, volume_l=20)
    assert finer.misfit <= coarse.misfit + 0.01 * (1 + coarse.misfit)


def test_fifteen_products_and_twelve_elements_take_a_moment():
    rng = np.random.default_rng(7)
    items = [
        ShelfItem(
            Product(
                f"p{n}",
                {
                    e if e != "N" else "N-NO3": float(rng.uniform(1, 50))
                    for e in ELEMENTS
                    if rng.random() < 0.4
                },
            ),
            1.0,
            10,
        )
        for n in range(15)
    ]
    target = {element: float(rng.uniform(10, 200)) for element in ELEMENTS}
    solve_recipe({}, items, target, volume_l=50)
    spent = []
    for _ in range(5):
        start = time.perf_counter()
        solve_recipe({}, items, target, volume_l=50)
        spent.append(time.perf_counter() - start)
    assert min(spent) < 0.020


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: solve_recipe({}, [], {"N": 1}, volume_l=1), "1 to 60"),
        (lambda: solve_recipe({}, shelf("urea", "urea"), {"N": 1}, volume_l=1), "twice"),
        (lambda: solve_recipe({}, shelf("urea"), {}, volume_l=1), "no element"),
        (lambda: solve_recipe({}, shelf("urea"), {"N": -1}, volume_l=1), "N is -1"),
        (lambda: solve_recipe({}, shelf("urea"), {"N": 1}, volume_l=0), "volume_l"),
        (lambda: solve_recipe({}, shelf("urea", step=0), {"N": 1}, volume_l=1), "step"),
        (lambda: solve_recipe({}, shelf("urea"), {"N": 1}, volume_l=1, weights={"N": -1}), "weight of N"),
        (lambda: solve_recipe({"N": float("nan")}, shelf("urea"), {"N": 1}, volume_l=1), "of the water"),
    ],
)
def test_an_impossible_recipe_is_refused_by_name(call, message):
    with pytest.raises(AgronomyError, match=message):
        call()
