"""Whether probabilities mean what they say: of what is called 3 in 10, do 3 in 10 come true?

Cases are drawn from the network itself, so this judges the reckoning, not the rules: a wrong strength in
the rules stays unseen here, a wrong formula or a lost digit does not.
"""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Floats, Network

EDGES = (0.0, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""Bins of probability, the last closed above. Finer near 0, where most causes of most cases lie."""
HIDDEN = 0.5  # share of the findings nobody looked at
CONFIDENCE_Z = 1.959964  # normal quantile of a two-sided interval of 95 %


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawn case: which causes are true (C,), which findings it shows (F,), which were looked at (F,)."""

    causes: NDArray[np.bool_]
    shown: NDArray[np.bool_]
    looked: NDArray[np.bool_]

    def evidence(self, network: Network) -> Evidence:
        """What was looked at, as evidence."""
        codes = np.array(network.findings)
        return Evidence(
            frozenset(codes[self.shown & self.looked].tolist()),
            frozenset(codes[~self.shown & self.looked].tolist()),
        )


@dataclass(frozen=True)
class Bin:
    """Causes said to be true with a probability in low..high: how many, and how often they were true.

    `expected`: mean probability said. `observed`: share that was true, with its Wilson interval of 95 %.
    All three are None for an empty bin.
    """

    low: float
    high: float
    count: int
    expected: float | None
    observed: float | None
    observed_low: float | None
    observed_high: float | None


@dataclass(frozen=True)
class Calibration:
    """The reliability of `cases` drawn cases.

    `brier`: mean squared difference between probability and truth over all causes of all cases, 0 best.
    `brier_prior`: the same for somebody who only knows the priors.
    """

    cases: int
    seed: int
    bins: tuple[Bin, ...]
    brier: float
    brier_prior: float


def draw(network: Network, count: int, seed: int, hidden: float = HIDDEN) -> Iterator[Drawn]:
    """Yield `count` cases drawn from the network, the same for the same seed.

    Causes by their priors, each by itself; findings by noisy-OR; each finding stays hidden with the
    probability `hidden` in [0, 1]. A case may have no cause at all. Raises `ValueError` for a count below 1
    or a share outside 0..1.
    """
    if count < 1:
        raise ValueError(f"The number of cases is {count}; at least 1 is needed.")
    if not 0 <= hidden <= 1:
        raise ValueError(f"The hidden share is {hidden}; allowed are numbers from 0 to 1.")
    random = np.random.default_rng(seed)
    for _ in range(count):
        causes = random.random(len(network.causes)) < network.prior
        chance = -np.expm1(network.log_leak_miss + causes @ network.log_miss)
        shown = random.random(len(network.findings)) < chance
        yield Drawn(causes, shown, random.random(len(network.findings)) >= hidden)


def calibrate(network: Network, count: int, seed: int, hidden: float = HIDDEN) -> Calibration:
    """Return the reliability of the marginals over `count` drawn cases. Raises as `draw` does."""
    drawn = list(draw(network, count, seed, hidden))
    said = np.array([list(posterior(network, case.evidence(network)).marginals.values()) for case in drawn])
    true = np.array([case.causes for case in drawn], dtype=np.float64)
    return Calibration(
        cases=count,
        seed=seed,
        bins=reliability(said.ravel(), true.ravel()),
        brier=float(np.mean((said - true) ** 2)),
        brier_prior=float(np.mean((network.prior - true) ** 2)),
    )


def reliability(said: Floats, true: Floats) -> tuple[Bin, ...]:
    """Return the bins for probabilities said (N,) and what was true (N,), 1 or 0."""
    places = np.clip(np.searchsorted(EDGES, said, side="right") - 1, 0, len(EDGES) - 2)
    return tuple(
        _bin(low, high, said[places == at], true[places == at])
        for at, (low, high) in enumerate(itertools.pairwise(EDGES))
    )


def _bin(low: float, high: float, said: Floats, true: Floats) -> Bin:
    if not len(said):
        return Bin(low, high, 0, None, None, None, None)
    interval = wilson(int(true.sum()), len(true))
    return Bin(low, high, len(said), float(said.mean()), float(true.mean()), *interval)


def wilson(hits: int, count: int, z: float = CONFIDENCE_Z) -> tuple[float, float]:
    """Return the score interval of a share of `hits` in `count` > 0.

    E. B. Wilson, Journal of the American Statistical Association 22:209-212, 1927 (formula from memory):
    the shares p with |hits / count - p| <= z sqrt(p (1 - p) / count).
    """
    share, spread = hits / count, z * z / count
    middle = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * math.sqrt(share * (1 - share) / count + spread / (4 * count))
    return max(0.0, middle - half), min(1.0, middle + half)
