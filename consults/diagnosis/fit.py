"""Whether the picture looks like anything the network knows, and words for probabilities.

Every threshold here is judgement, to be replaced when the shop has confirmed cases of its own.
"""

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.inference import Posterior, log_evidence
from consults.diagnosis.network import Evidence, Floats, Located, Network, locate

Verdict = Literal["fits", "unusual", "fits-nothing-known"]
Word = Literal["almost-certain", "likely", "possible", "less-likely", "unlikely"]

# Judgement: standard deviations below the mean of simulated cases.
UNUSUAL_BELOW = 2.0
NOTHING_BELOW = 3.0
# Judgement: the least probability of the first cause that is worth acting on.
ENOUGH = 0.35
# Judgement: the least probability of each word.
WORDS: tuple[tuple[float, Word], ...] = (
    (0.90, "almost-certain"),
    (0.65, "likely"),
    (0.35, "possible"),
    (0.10, "less-likely"),
    (0.0, "unlikely"),
)

_SEED = 20240229
_CASES = 100
_DRAWS = 2000
_MOST_PRESENT = 14  # more present findings are compared per finding with cases of this many
_FEWEST_CASES = 20  # when even very frequent causes give fewer, nothing known shows so many findings
_ABSENT_STEP = 5  # numbers of absent findings are rounded down to this, so that simulations are shared


@dataclass(frozen=True)
class Fit:
    """How well the findings fit the network.

    `log10_evidence`: log10 P(findings present and absent). `score`: how many standard deviations log10
    P(present | absent) lies above (+) or below (-) the mean of simulated cases; 0 for fewer than two
    present findings, -6 when simulated cases never show so many.
    """

    log10_evidence: float
    score: float
    verdict: Verdict


def fit(network: Network, evidence: Evidence) -> Fit:
    """Return whether `evidence` looks like cases that the network itself produces.

    log10 P(present findings | absent findings, odds) is compared with 100 cases simulated from the
    network with a fixed seed: at least one true cause, as many findings shown to us as here, drawn at
    random from those the case has. Absent findings stand behind the bar, because staff look for what
    would settle the case while a simulation looks anywhere; they still count when they rule out what
    would explain the present ones. Below `UNUSUAL_BELOW` and `NOTHING_BELOW` standard deviations the
    verdict is unusual and fits-nothing-known. Raises `UnknownCodeError` and `EvidenceError`.
    """
    located = locate(network, evidence)
    whole, log_present = _log_probabilities(network, located)
    count = len(located.present)
    if count < 2:  # one finding alone may be rare, but it cannot contradict anything
        return Fit(whole / math.log(10), 0.0, "fits")
    step = len(located.absent) // _ABSENT_STEP * _ABSENT_STEP
    simulated = _simulated(network, min(count, _MOST_PRESENT), step)
    if simulated is None:
        score = -2 * NOTHING_BELOW
    else:
        score = (log_present / max(1.0, count / _MOST_PRESENT) - simulated[0]) / simulated[1]
    return Fit(whole / math.log(10), score, _verdict(score))


def enough_to_tell(posterior: Posterior, verdict: Verdict) -> bool:
    """Return whether the ranking is worth acting on.

    Not when the first cause is below 0.35, when "none of these" is more probable than it, or when the
    findings fit nothing known.
    """
    first = max(posterior.marginals.values())
    return verdict != "fits-nothing-known" and first >= max(ENOUGH, posterior.none)


def word(probability: float) -> Word:
    """Return the code of the word for a probability in [0, 1]. Raises `ValueError` outside."""
    if not 0 <= probability <= 1:
        raise ValueError(f"The probability is {probability}; allowed are numbers from 0 to 1.")
    return next(name for least, name in WORDS if probability >= least)


def _verdict(score: float) -> Verdict:
    if score < -NOTHING_BELOW:
        return "fits-nothing-known"
    return "unusual" if score < -UNUSUAL_BELOW else "fits"


def _log_probabilities(network: Network, located: Located) -> tuple[float, float]:
    """Return log P(present and absent) and log P(present | absent)."""
    whole, absent = log_evidence(network, located)
    return whole, whole - absent


@functools.lru_cache(maxsize=512)
def _simulated(network: Network, present: int, absent: int) -> tuple[float, float] | None:
    """Return mean and standard deviation of log P(present | absent) over simulated cases, or None."""
    random = np.random.default_rng([_SEED, present, absent])
    cases = _cases(network, present, random)
    if len(cases) < _FEWEST_CASES:
        return None
    values = []
    for shown in cases:
        seen = np.sort(random.choice(np.flatnonzero(shown), present, replace=False))
        others = np.flatnonzero(~shown)
        missed = np.sort(random.choice(others, min(absent, len(others)), replace=False))
        values.append(_log_probabilities(network, Located(seen, missed, network.log_odds))[1])
    return float(np.mean(values)), max(float(np.std(values)), 0.1)


def _cases(network: Network, present: int, random: np.random.Generator) -> NDArray[np.bool_]:
    """Return up to 100 cases (rows of findings) with at least one true cause and `present` findings.

    When too few have that many, causes are made more frequent until enough do.
    """
    kept: list[NDArray[np.bool_]] = []
    total = 0
    for boost in (1.0, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0):
        prior: Floats = boost * network.prior / (1 + (boost - 1) * network.prior)
        causes = random.random((_DRAWS, len(prior))) < prior
        causes = causes[causes.any(axis=1)]
        chance = -np.expm1(network.log_leak_miss + causes @ network.log_miss)
        findings = random.random(chance.shape) < chance
        kept.append(findings[findings.sum(axis=1) >= present])
        total += len(kept[-1])
        if total >= _CASES:
            return np.concatenate(kept)[:_CASES]
    return np.concatenate(kept)
