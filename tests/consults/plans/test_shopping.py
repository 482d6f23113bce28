"""The shopping list: what is needed, from which pack, at what price, and what costs nothing."""

import math
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from consults.plans.shopping import Asker, Stock, Wish, fill, packs_of, total_of, wishes_of
from consults.plans.ways import load_needs, load_ways

NEEDS = st.sampled_from(sorted(load_needs())[:6])
WISHES = st.lists(
    st.builds(
        Wish,
        need=NEEDS,
        lines=st.just((0,)),
        must=st.booleans(),
        amount=st.none() | st.tuples(st.floats(0.1, 5000), st.sampled_from(["g", "L"])),
    ),
    unique_by=lambda wish: wish.need,
)
SHELF = st.lists(
    st.builds(
        Stock,
        pk=st.integers(1, 99),
        name=st.sampled_from("abc"),
        needs=st.lists(NEEDS, min_size=1, max_size=3).map(tuple),
        unit=st.sampled_from(["g", "kg", "ml", "L", "piece", "m"]),
        pack_size=st.floats(0.01, 5000),
        price_minor=st.none() | st.integers(0, 10_000),
        in_stock=st.booleans(),
    ),
    unique_by=lambda stock: stock.pk,
)


def stock(pk: int = 1, **parts: Any) -> Stock:
    values = {"name": f"item {pk}", "needs": ("iron-chelate",), "unit": "piece", "pack_size": 1.0,
              "price_minor": 500, "in_stock": True}  # fmt: skip
    return Stock(pk=pk, **{**values, **parts})


@given(WISHES, SHELF)
def test_the_total_is_the_sum_of_packs_times_price_and_every_wish_stands_once(
    wishes: list[Wish], shelf: list[Stock]
) -> None:
    picks = fill(wishes, shelf)
    assert [pick.wish for pick in picks] == wishes
    everything, must = total_of(picks, must_only=False), total_of(picks, must_only=True)
    assert everything.minor == sum(
        pick.packs * pick.stock.price_minor for pick in picks if pick.stock and pick.stock.price_minor
    )
    assert everything.minor == sum(pick.cost_minor for pick in picks if pick.cost_minor is not None)
    assert must.minor <= everything.minor and must.unpriced <= everything.unpriced
    assert everything.unpriced == sum(not pick.stock or pick.stock.price_minor is None for pick in picks)
    assert total_of(list(reversed(picks)), must_only=False) == everything
    for pick in picks:
        assert pick.stock is None or pick.wish.need in pick.stock.needs
        assert pick.stock is not None or not any(pick.wish.need in item.needs for item in shelf)


@given(WISHES, SHELF, st.randoms(use_true_random=False))
def test_the_order_of_the_shelf_decides_nothing(wishes: list[Wish], shelf: list[Stock], mixer: Any) -> None:
    mixed = list(shelf)
    mixer.shuffle(mixed)
    assert fill(wishes, mixed) == fill(wishes, shelf)


@given(st.floats(0.1, 100_000), st.floats(0.1, 5000))
def test_the_packs_hold_the_amount_and_one_less_would_not(grams: float, pack_g: float) -> None:
    packs = packs_of(stock(unit="g", pack_size=pack_g), (grams, "g"))
    assert packs * pack_g >= grams * (1 - 1e-5)
    assert packs == 1 or (packs - 1) * pack_g < grams
    assert math.isclose(packs, packs_of(stock(unit="kg", pack_size=pack_g / 1000), (grams, "g")), abs_tol=1)


def test_an_amount_of_another_kind_or_none_asks_for_one_pack() -> None:
    assert packs_of(stock(unit="piece"), (900.0, "g")) == 1
    assert packs_of(stock(unit="L", pack_size=0.5), (900.0, "g")) == 1
    assert packs_of(stock(unit="L", pack_size=0.5), None) == 1
    assert packs_of(stock(unit="ml", pack_size=500), (1.2, "L")) == 3


def test_in_stock_comes_before_cheap_and_cheap_in_all_before_cheap_in_one_pack() -> None:
    wish = Wish("iron-chelate", (0,), True, (300.0, "g"))
    away = stock(1, price_minor=1, unit="kg", in_stock=False)
    small = stock(2, price_minor=200, unit="g", pack_size=50.0)
    large = stock(3, price_minor=900, unit="g", pack_size=500.0)
    pick = fill([wish], [away, small, large])[0]
    assert (pick.stock, pick.packs, pick.cost_minor) == (large, 1, 900)
    assert [item.pk for item in pick.also] == [2, 1]


def test_an_item_that_serves_two_wishes_is_bought_once() -> None:
    kit = stock(needs=("ph-test-kit", "ec-meter"), price_minor=4000)
    picks = fill([Wish("ph-test-kit", (0,), True), Wish("ec-meter", (1,), False)], [kit])
    assert [(pick.packs, pick.cost_minor) for pick in picks] == [(1, 4000), (0, 0)]


def test_a_need_of_two_lines_stands_once_with_the_sum_and_must_comes_first() -> None:
    found = wishes_of([
        Asker(0, "lower-ph", False), Asker(1, "magnesium-drench", True, (12.0, "g")),
        Asker(2, "refresh-root-zone", False), Asker(3, "magnesium-drench", True, (8.0, "g")),
    ])  # fmt: skip
    assert found[0] == Wish("magnesium-sulfate", (1, 3), True, (20.0, "g"))
    assert [wish.need for wish in found].count("ph-test-kit") == 1
    assert not any(wish.must for wish in found[1:])


def test_of_a_line_that_buys_the_first_need_must_be_bought_and_the_tools_may_be_at_home() -> None:
    found = wishes_of([Asker(0, "treat-alkalinity", True)])
    assert [(wish.need, wish.must) for wish in found] == [
        ("ph-down-acid", True), ("ph-test-kit", False), ("gloves-goggles", False),
    ]  # fmt: skip


def test_a_purchase_nobody_has_named_asks_by_its_own_code_and_a_line_of_our_own_asks_nothing() -> None:
    assert wishes_of([Asker(0, "new-action", True), Asker(1, "", True)]) == [Wish("new-action", (0,), True)]


def test_the_first_need_of_an_action_is_what_its_amount_is_of() -> None:
    assert load_ways()["magnesium-drench"].needs[0] == "magnesium-sulfate"
    assert load_ways()["blend-rainwater"].needs[0] == "pure-water"
