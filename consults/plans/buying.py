"""The shopping list of a plan as plain data: from the shop's shelf, and beside it what costs nothing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import formats
from django.utils.translation import ngettext

from consults.cases.facts import Facts
from consults.models import PlanAction, ShelfItem, Shop
from consults.plans.building import applies, find_conflicts
from consults.plans.shelf import shelf_all, shelf_stock
from consults.plans.shopping import Asker, Pick, Stock, Wish, fill, total_of, wishes_of
from consults.plans.ways import load_needs, way_of
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Action
from consults.shop.money import amount_of, decimals_of
from garden.reference.schema import text
from garden.wording import Wording

MOST_INSTEAD = 3


@dataclass(frozen=True)
class Buyer:
    """What the shopping list is made from: the plan's lines, the case, its rules, the shop, the language."""

    kept: Sequence[PlanAction]
    facts: Facts
    ruleset: Ruleset
    wording: Wording
    shop: Shop
    language: str


def tell_shopping(buyer: Buyer) -> dict[str, Any]:
    """The shopping list as plain data. Each line that must be bought says what serves the same end without
    buying, or that nothing does (`instead` empty)."""
    askers = [
        Asker(number, action.code, action.buys, _uses(action)) for number, action in enumerate(buyer.kept)
    ]
    currency = buyer.shop.currency
    picks = fill(wishes_of(askers), shelf_stock(currency))
    must, everything = total_of(picks, must_only=True), total_of(picks, must_only=False)
    return {
        "currency": currency,
        "lines": [_line(pick, buyer) for pick in picks],
        "total": price_text(must.minor, currency),
        "unpriced": must.unpriced,
        "total_all": price_text(everything.minor, currency),
        "unpriced_all": everything.unpriced,
    }


@dataclass(frozen=True)
class ShelfLine:
    """An item as the list of the shelf shows it. `outdated`: its price is in a currency of before."""

    item: ShelfItem
    pack: str
    price: str
    outdated: bool
    serves: str


def shelf_lines(currency: str, language: str) -> list[ShelfLine]:
    """All items of the shelf in words."""
    needs = load_needs()
    return [
        ShelfLine(
            item,
            _pack(float(item.pack_size), item.unit),
            price_text(item.price_minor, item.currency) if item.price_minor is not None else "",
            item.price_minor is not None and item.currency != currency,
            ", ".join(text(needs[code].name, language) if code in needs else code for code in item.needs),
        )
        for item in shelf_all()
    ]


def price_text(minor: int, currency: str) -> str:
    """An amount of money in the active language's signs: "12.50 EUR"."""
    amount = formats.number_format(amount_of(minor, currency), decimal_pos=decimals_of(currency))
    return f"{amount}\N{NO-BREAK SPACE}{currency}"


def _pack(size: float, unit: str) -> str:
    """What one pack holds: "500 g"."""
    words = {
        "piece": ngettext("%s piece", "%s pieces", int(size)),
        "test": ngettext("%s test", "%s tests", int(size)),
    }
    said = formats.number_format(f"{size:.3f}".rstrip("0").rstrip("."))
    return words[unit] % said if unit in words else f"{said}\N{NO-BREAK SPACE}{unit}"


def _uses(action: PlanAction) -> tuple[float, str] | None:
    """What the line uses up, while its amount stands as it was worked out."""
    uses = action.working.get("uses")
    return (uses[0], uses[1]) if uses and action.working.get("shown") == action.quantity else None


def _line(pick: Pick, buyer: Buyer) -> dict[str, Any]:
    wish, stock, currency = pick.wish, pick.stock, buyer.shop.currency
    need = load_needs().get(wish.need)
    lines = [buyer.kept[number] for number in wish.lines]
    return {
        "need": wish.need,
        "name": text(need.name, buyer.language) if need else lines[0].text,
        "for": [line.text for line in lines],
        "lines": list(wish.lines),
        "must": wish.must,
        "amount": _amount(wish, buyer.wording),
        "item": _item(stock, currency) if stock else None,
        "packs": pick.packs,
        "cost": price_text(pick.cost_minor, currency) if pick.cost_minor is not None else "",
        "also": [_item(other, currency) for other in pick.also],
        "instead": _instead(wish, lines, buyer),
    }


def _item(stock: Stock, currency: str) -> dict[str, Any]:
    priced = stock.price_minor is not None
    return {
        "name": stock.name,
        "pack": _pack(stock.pack_size, stock.unit),
        "price": price_text(stock.price_minor or 0, currency) if priced else "",
        "in_stock": stock.in_stock,
        "note": stock.note,
    }


def _amount(wish: Wish, wording: Wording) -> str:
    if wish.amount is None:
        return ""
    value, unit = wish.amount
    return wording.volume(value) if unit == "L" else wording.weight(value)


def _instead(wish: Wish, lines: Sequence[PlanAction], buyer: Buyer) -> list[dict[str, Any]]:
    """What serves the same end without buying: named in the data, else other remedies of the same causes."""
    need = load_needs().get(wish.need)
    found = []
    if need and need.without:
        found.append({"text": text(need.without, buyer.language), "in_plan": False})
    if wish.must:
        found += _other_actions([line for line in lines if line.buys], buyer)
    return found[:MOST_INSTEAD]


def _other_actions(lines: Sequence[PlanAction], buyer: Buyer) -> list[dict[str, Any]]:
    kept = {action.code: action for action in buyer.kept if action.code}
    causes = dict.fromkeys(code for line in lines for code in line.causes)
    free = _free_actions(causes, buyer, kept)
    named = [code for line in lines for code in way_of(line.code).instead if code in free]
    others = named or [code for code in free if way_of(code).shows or way_of(code).aim]
    chosen = sorted(dict.fromkeys(others), key=lambda code: code not in kept)
    return [
        {
            "text": kept[code].text if code in kept else text(free[code].text, buyer.language),
            "in_plan": code in kept,
        }
        for code in chosen
    ]


def _free_actions(causes: Iterable[str], buyer: Buyer, kept: Mapping[str, PlanAction]) -> dict[str, Action]:
    """The actions of these causes that need no buying, suit the garden and contradict no line of the plan."""
    standing = [(action.code, action.opposes) for action in kept.values()]
    return {
        action.code: action
        for cause in causes
        if cause in buyer.ruleset.causes
        for action in buyer.ruleset.causes[cause].actions
        if not action.buys
        and applies(action, buyer.facts)
        and not any(
            action.code in (pair.first, pair.second)
            for pair in find_conflicts([*standing, (action.code, action.opposes)])
        )
    }
