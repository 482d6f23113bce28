"""The recipe solver: doses of what is on the shelf that come nearest to a target.

Nearest means the least sum of squares of weighted relative misses, over and under counting alike. The best
doses are found as real numbers within their bounds and then moved to what the measure can give: a small
search starts from rounding them, and from the best single product, and only ever improves on both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from garden.agronomy.errors import AgronomyError, check_above, check_range
from garden.agronomy.labels import NITROGEN_FORMS, totals
from garden.agronomy.mix import Product

Array = NDArray[np.float64]

_UNWANTED_SCALE_MG_L = 50.0
"""What an element counts against when its target is zero (sodium, chloride)."""


@dataclass(frozen=True)
class ShelfItem:
    """A product with the smallest step its measure can give, for the whole batch, and the most per litre."""

    product: Product
    step: float
    max_per_l: float


@dataclass(frozen=True)
class Miss:
    """One element: wanted and reached in mg/L; `percent` of the target, None when the target is zero."""

    element: str
    target_mg_l: float
    reached_mg_l: float

    @property
    def difference_mg_l(self) -> float:
        """Reached less wanted, in mg/L."""
        return self.reached_mg_l - self.target_mg_l

    @property
    def percent(self) -> float | None:
        """The difference in percent of what was wanted."""
        return 100 * self.difference_mg_l / self.target_mg_l if self.target_mg_l else None


@dataclass(frozen=True)
class RecipeResult:
    """Doses for the batch by product code, in mL or g; what is reached; and the misfit (0 is exact).

    `exact_doses` and `exact_misfit`: what would be if the measure were infinitely fine.
    """

    doses: Mapping[str, float]
    doses_per_l: Mapping[str, float]
    reached_mg_l: Mapping[str, float]
    misses: tuple[Miss, ...]
    misfit: float
    exact_doses: Mapping[str, float]
    exact_misfit: float


@dataclass(frozen=True)
class _Problem:
    """Weighted least squares: rows are elements, columns products, doses per litre from 0 to `upper`."""

    matrix: Array
    wanted: Array
    upper: Array

    def columns(self, chosen: Sequence[int]) -> "_Problem":
        """The same with only some of its products."""
        index = np.array(list(chosen), dtype=int)
        return _Problem(self.matrix[:, index], self.wanted, self.upper[index])

    def misfit(self, doses: Array) -> float:
        miss = self.matrix @ doses - self.wanted
        return float(miss @ miss)


def solve_recipe(
    water_mg_l: Mapping[str, float],
    shelf: Sequence[ShelfItem],
    target_mg_l: Mapping[str, float],
    *,
    volume_l: float,
    weights: Mapping[str, float] | None = None,
) -> RecipeResult:
    """Return the measurable doses for `volume_l` litres (above 0 to 1e6) that come nearest to a target.

    `water_mg_l`: what the water holds, 0 to 1e5 mg/L by nutrient. `shelf`: 1 to 60 products with different
    codes, `step` above 0 and `max_per_l` 0 to 1000, in mL or g. `target_mg_l`: 0 to 1e5 mg/L by element ("N"
    for all nitrogen) or form of nitrogen; what is not named is not minded. `weights`: 0 to 100, 1 where not
    given. The doses are never below zero, and the misfit never above that of plain rounding or of the best
    product alone at a measurable dose. Raises OutOfRange, AgronomyError.
    Source: bounded least squares (scipy, lsq_linear).
    """
    volume = check_above("volume_l", volume_l, 0, 1e6, "L")
    problem = _problem(water_mg_l, [item.product for item in shelf], target_mg_l, weights, _upper(shelf))
    steps = np.array([check_above("step", item.step, 0, 1e6, "mL or g") for item in shelf]) / volume
    exact = _least_squares(problem)
    counts = _measurable(problem, exact, steps)
    doses = counts * steps
    codes = [item.product.code for item in shelf]
    reached = _reached(water_mg_l, [item.product for item in shelf], doses)
    return RecipeResult(
        doses={code: float(dose * volume) for code, dose in zip(codes, doses, strict=True)},
        doses_per_l={code: float(dose) for code, dose in zip(codes, doses, strict=True)},
        reached_mg_l=totals(reached),
        misses=tuple(Miss(name, mg, _amount(reached, name)) for name, mg in target_mg_l.items()),
        misfit=problem.misfit(doses),
        exact_doses={code: float(dose * volume) for code, dose in zip(codes, exact, strict=True)},
        exact_misfit=problem.misfit(exact),
    )


def best_addition(
    water_mg_l: Mapping[str, float],
    shelf: Sequence[ShelfItem],
    target_mg_l: Mapping[str, float],
    candidates: Sequence[ShelfItem],
    *,
    weights: Mapping[str, float] | None = None,
) -> tuple[str, float] | None:
    """Return the code of the one candidate that would help most, and the misfit with it, or None.

    None when no candidate lowers the misfit by a twentieth. Doses as fine as wished; ranges and errors as
    solve_recipe (an empty shelf will do; with the candidates at most 60 products), and candidates of a code
    that is on the shelf are passed over. Source: see solve_recipe.
    """
    have = {item.product.code for item in shelf}
    new = [item for item in candidates if item.product.code not in have]
    items = [*shelf, *new]
    if not new:
        return None
    whole = _problem(water_mg_l, [item.product for item in items], target_mg_l, weights, _upper(items))
    count = len(shelf)
    present = whole.columns(range(count))
    doses = _least_squares(present)
    now = present.misfit(doses)
    # At the best doses a product can only help when the misfit falls as its dose leaves zero.
    falling = whole.matrix.T @ (present.wanted - present.matrix @ doses) > 1e-9
    tried = []
    for index in range(count, len(items)):
        if falling[index] and whole.upper[index] > 0:
            larger = whole.columns([*range(count), index])
            tried.append((larger.misfit(_least_squares(larger)), items[index].product.code))
    best = min(tried, default=None)
    if best is None or best[0] > 0.95 * now:
        return None
    return best[1], best[0]


def _upper(shelf: Sequence[ShelfItem]) -> Array:
    if not 1 <= len(shelf) <= 60:
        raise AgronomyError(f"The shelf holds {len(shelf)} products; a recipe takes 1 to 60.")
    codes = [item.product.code for item in shelf]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise AgronomyError(f"The product “{twice[0]}” stands on the shelf twice; name each product once.")
    return np.array([check_range("max_per_l", item.max_per_l, 0, 1000) for item in shelf], dtype=float)


def _amount(nutrients: Mapping[str, float], name: str) -> float:
    if name == "N":
        return sum(nutrients.get(form, 0.0) for form in (*NITROGEN_FORMS, "N"))
    return nutrients.get(name, 0.0)


def _problem(
    water: Mapping[str, float],
    products: Sequence[Product],
    target: Mapping[str, float],
    weights: Mapping[str, float] | None,
    upper: Array,
) -> _Problem:
    if not target:
        raise AgronomyError("The target names no element; give at least one, for example N 150 mg/L.")
    names = tuple(target)
    wanted = np.array([check_range(name, target[name], 0, 1e5, "mg/L") for name in names])
    for name, amount in water.items():
        check_range(f"{name} of the water", amount, 0, 1e5, "mg/L")
    given = np.array([_amount(water, name) for name in names])
    each = np.array([[_amount(product.content_mg, name) for product in products] for name in names])
    factors = np.array([check_range(f"weight of {n}", (weights or {}).get(n, 1.0), 0, 100) for n in names])
    scale = factors / np.where(wanted > 0, np.maximum(wanted, 1e-6), _UNWANTED_SCALE_MG_L)
    matrix = each.reshape(len(names), len(products)) * scale[:, None]
    return _Problem(matrix, (wanted - given) * scale, upper)


def _least_squares(problem: _Problem) -> Array:
    from scipy.optimize import lsq_linear

    matrix, upper = problem.matrix, problem.upper
    size = np.linalg.norm(matrix, axis=0)
    usable = size * upper > 1e-12
    doses = np.zeros(len(upper))
    if not usable.any():
        return doses
    # Columns of one length and a faint pull to zero keep the answer single when products resemble another.
    columns = matrix[:, usable] / size[usable]
    pull = 1e-5 * np.eye(columns.shape[1])
    found: Any = lsq_linear(
        np.vstack([columns, pull]),
        np.concatenate([problem.wanted, np.zeros(columns.shape[1])]),
        bounds=(0.0, upper[usable] * size[usable]),
        method="bvls",
    )
    doses[usable] = np.clip(found.x / size[usable], 0.0, upper[usable])
    return doses


def _measurable(problem: _Problem, exact: Array, steps: Array) -> Array:
    """Whole numbers of steps, no worse than rounding and than the best product alone."""
    most = np.floor(problem.upper / steps + 1e-9)
    columns = problem.matrix * steps
    starts = [np.minimum(np.round(exact / steps), most), np.minimum(np.floor(exact / steps), most)]
    starts.append(_best_single(columns, problem.wanted, most))
    found = [_improve(columns, problem.wanted, most, start) for start in starts]
    return min(found, key=lambda counts: _square(columns @ counts - problem.wanted))


def _square(miss: Array) -> float:
    return float(miss @ miss)


def _best_single(columns: Array, wanted: Array, most: Array) -> Array:
    size = np.einsum("ij,ij->j", columns, columns)
    counts = np.zeros(len(most))
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(size > 0, np.round(columns.T @ wanted / size), 0.0)
    alone = np.clip(alone, 0.0, most)
    gain = alone * (2 * (columns.T @ wanted) - alone * size)
    best = int(np.argmax(gain))
    counts[best] = alone[best] if gain[best] > 0 else 0.0
    return counts


def _improve(columns: Array, wanted: Array, most: Array, start: Array) -> Array:
    """Move one or two products by one step while that lowers the misfit."""
    count = len(most)
    gram = columns.T @ columns
    sign = np.concatenate([np.ones(count), -np.ones(count)])
    which = np.concatenate([np.arange(count), np.arange(count)])
    pairs = gram[np.ix_(which, which)] * np.outer(sign, sign)
    own = np.diag(pairs)
    # Moving one product twice, or forth and back, is no pair.
    same = which[:, None] == which[None, :]
    counts = start.copy()
    for _ in range(200):
        slope = 2 * sign * (columns.T @ (columns @ counts - wanted))[which]
        single = slope + own
        blocked = np.where(sign > 0, counts[which] + 1 > most[which], counts[which] < 1)
        single = np.where(blocked, np.inf, single)
        double = np.where(same, np.inf, single[:, None] + single[None, :] + 2 * pairs)
        one, two = int(np.argmin(single)), int(np.argmin(double))
        first, second = divmod(two, 2 * count)
        if min(single[one], double[first, second]) >= -1e-12:
            break
        moves = (one,) if single[one] <= double[first, second] else (first, second)
        for move in moves:
            counts[which[move]] += sign[move]
    return counts


def _reached(water: Mapping[str, float], products: Sequence[Product], doses: Array) -> dict[str, float]:
    reached = dict(water)
    for product, dose in zip(products, doses, strict=True):
        for name, mg in product.content_mg.items():
            reached[name] = reached.get(name, 0.0) + mg * float(dose)
    return reached
