"""Bounds for present findings that are too many to be handled exactly.

With x = -log(1 - leak) - sum over true causes of log(1 - strength), a present finding has the probability
f(x) = 1 - exp(-x), and log f is concave and rises with x. Both bounds are log-linear in the causes, so
they act like absent findings do: a factor on the odds of each cause, and a constant.

Above: a concave function lies below each of its tangents, log f(x) <= log f(x0) + (x - x0) f'(x0)/f(x0),
for any x0 > 0. x0 is taken at the expected x, where the tangent is tight.

Below: with weights w_i >= 0 that sum to 1 and x = x_leak + sum of t_i d_i (d_i is 1 for a true cause), x
is the weighted mean of x_leak + t_i d_i / w_i, and a concave function of a mean is at least the mean of
the function (Jensen): log f(x) >= sum of w_i log f(x_leak + t_i d_i / w_i). A cause with weight 0 is left
out of x, which only lowers log f. Any weights prove a bound; they are taken in proportion to what each
cause is expected to add.

(The two bounds are known from variational inference in such networks: T. Jaakkola and M. Jordan, Journal of
Artificial Intelligence Research 10:291, 1999; the proofs above stand by themselves.)
"""

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.network import Floats, Network
from consults.diagnosis.sweep import make_plan


@dataclass(frozen=True, eq=False)
class Linear:
    """log P(findings | causes) replaced by constant + sum of slopes of the true causes.

    `each_slope` (C, F) and `each_constant` (F,) hold the share of every finding, `slopes` (C,) and
    `constant` their sums.
    """

    findings: NDArray[np.intp]
    each_slope: Floats
    each_constant: Floats

    @functools.cached_property
    def slopes(self) -> Floats:
        """What a true cause adds, all findings together, (C,)."""
        result: Floats = self.each_slope.sum(axis=1)
        return result

    @functools.cached_property
    def constant(self) -> float:
        """log P(findings | no cause), all together."""
        return float(self.each_constant.sum())


def choose_linked(
    network: Network, present: NDArray[np.intp], width: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (kept, loosened) present findings such that the kept ones need at most `width` open at once.

    The finding whose probability can vary least between "no cause" and "all causes" is loosened first.
    """
    log_range = _log_present(-(network.log_leak_miss + network.log_miss.sum(axis=0))) - np.log(network.leak)
    by_range = sorted(present.tolist(), key=lambda at: (-log_range[at], at))
    for count in range(len(by_range), 0, -1):
        kept = np.array(sorted(by_range[:count]), dtype=np.intp)
        if make_plan(network, kept).width <= width:
            return kept, np.array(sorted(by_range[count:]), dtype=np.intp)
    raise ValueError(f"The width is {width}; at least 1 is needed.")


def tangent_above(network: Network, findings: NDArray[np.intp], guess: Floats) -> Linear:
    """Return an upper bound for `findings`, tight where the causes have the probabilities `guess` (C,)."""
    unlisted, pushes = -network.log_leak_miss[findings], -network.log_miss[:, findings]
    at = unlisted + guess @ pushes
    slope = 1 / np.expm1(at)
    return Linear(findings, pushes * slope, _log_present(at) + slope * (unlisted - at))


def jensen_below(network: Network, findings: NDArray[np.intp], guess: Floats) -> Linear:
    """Return a lower bound for `findings`, tight where the causes have the probabilities `guess` (C,)."""
    unlisted, pushes = -network.log_leak_miss[findings], -network.log_miss[:, findings]
    expected = pushes * np.maximum(guess, 1e-6)[:, None]
    total = expected.sum(axis=0)
    weights = expected / np.where(total > 0, total, 1.0)
    share = np.divide(pushes, weights, out=np.zeros_like(pushes), where=weights > 0)
    gains = weights * (_log_present(unlisted + share) - _log_present(unlisted))
    return Linear(findings, gains, _log_present(unlisted))


def _log_present(push: Floats) -> Floats:
    """log(1 - exp(-push))."""
    result: Floats = np.log(-np.expm1(-push))
    return result
