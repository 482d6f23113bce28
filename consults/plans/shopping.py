"""What has to be bought for a plan, matched with a shelf: pure functions. Knows no Django, no database."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from consults.plans.ways import way_of

# How many of the plain unit one unit holds. Units of different kinds are not compared.
_PLAIN = {"g": ("g", 1.0), "kg": ("g", 1000.0), "ml": ("ml", 1.0), "L": ("ml", 1000.0)}


@dataclass(frozen=True)
class Stock:
    """An item of the shelf. `price_minor` is of one pack, None when not entered or in another currency."""

    pk: int
    name: str
    needs: tuple[str, ...]
    unit: str
    pack_size: float
    price_minor: int | None
    in_stock: bool
    note: str = ""


@dataclass(frozen=True)
class Asker:
    """A line of the plan that may need something: its number, its code, whether it says that it must be
    bought, and the amount its quantity uses up."""

    line: int
    code: str
    buys: bool
    uses: tuple[float, str] | None = None


@dataclass(frozen=True)
class Wish:
    """Something needed, by which lines of the plan. `must`: a line says that it has to be bought; else the
    grower may well have it at home."""

    need: str
    lines: tuple[int, ...]
    must: bool
    amount: tuple[float, str] | None = None


@dataclass(frozen=True)
class Pick:
    """A wish with what the shelf has for it. `packs` is 0 when a line above takes the same item already."""

    wish: Wish
    stock: Stock | None
    packs: int = 0
    cost_minor: int | None = None
    also: tuple[Stock, ...] = ()


@dataclass(frozen=True)
class Total:
    """The sum of the picks that have a price, and how many have none."""

    minor: int
    unpriced: int


def wishes_of(askers: Sequence[Asker]) -> list[Wish]:
    """Return what the lines need, once each, what must be bought first: of a line that buys, the first of its
    needs; the others may be at home. A line that buys but whose need is not known asks by its own code."""
    found: dict[str, Wish] = {}
    for asker in askers:
        needs = way_of(asker.code).needs or ((asker.code,) if asker.buys and asker.code else ())
        for place, need in enumerate(needs):
            amount = asker.uses if place == 0 else None
            new = Wish(need, (asker.line,), asker.buys and place == 0, amount)
            found[need] = _joined(found[need], new) if need in found else new
    return sorted(found.values(), key=lambda wish: not wish.must)


def fill(wishes: Sequence[Wish], shelf: Sequence[Stock]) -> list[Pick]:
    """Return each wish with the item that serves it: in stock before to be ordered, then the cheaper in all,
    then the name. An item that serves two wishes is bought once."""
    taken: dict[int, int] = {}
    picks = []
    for wish in wishes:
        fitting = sorted(
            (stock for stock in shelf if wish.need in stock.needs), key=lambda stock: _rank(stock, wish)
        )
        if not fitting:
            picks.append(Pick(wish, None))
            continue
        best = next((stock for stock in fitting if stock.pk in taken), fitting[0])
        packs = max(0, packs_of(best, wish.amount) - taken.get(best.pk, 0))
        taken[best.pk] = taken.get(best.pk, 0) + packs
        cost = None if best.price_minor is None else best.price_minor * packs
        others = tuple(stock for stock in fitting if stock.pk != best.pk)
        picks.append(Pick(wish, best, packs, cost, others))
    return picks


def packs_of(stock: Stock, amount: tuple[float, str] | None) -> int:
    """Return how many packs cover the amount; one when the amount is not known or of another kind."""
    if amount is None or stock.unit not in _PLAIN or amount[1] not in _PLAIN:
        return 1
    kind, per = _PLAIN[stock.unit]
    wanted_kind, wanted_per = _PLAIN[amount[1]]
    if kind != wanted_kind:
        return 1
    # A millionth less: 500 g from a pack of 0.5 kg is one pack, whatever binary fractions make of it.
    return max(1, math.ceil(amount[0] * wanted_per / (stock.pack_size * per) - 1e-6))


def total_of(picks: Sequence[Pick], *, must_only: bool) -> Total:
    """Return the sum of what the picks cost; of those that must be bought, or of all."""
    counted = [pick for pick in picks if pick.wish.must or not must_only]
    return Total(
        minor=sum(pick.cost_minor or 0 for pick in counted),
        unpriced=sum(pick.cost_minor is None for pick in counted),
    )


def _joined(one: Wish, other: Wish) -> Wish:
    amounts = [amount for amount in (one.amount, other.amount) if amount is not None]
    alike = len({unit for _amount, unit in amounts}) == 1
    amount = (sum(value for value, _unit in amounts), amounts[0][1]) if alike else one.amount
    return Wish(one.need, (*one.lines, *other.lines), one.must or other.must, amount)


def _rank(stock: Stock, wish: Wish) -> tuple[bool, bool, int, str, int]:
    cost = (stock.price_minor or 0) * packs_of(stock, wish.amount)
    return not stock.in_stock, stock.price_minor is None, cost, stock.name, stock.pk
