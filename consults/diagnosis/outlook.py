"""What would be believed after each possible answer to a check, one step ahead.

A check is a finding not looked at, a fact outside the network that moves odds (a reading, a habit), or a
laboratory test of one cause. All answers of all checks go through the engine in one batch.
"""

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.inference import Beliefs, absorb, believe, evidence_change, prepare
from consults.diagnosis.network import Evidence, Floats, Located, Network, locate

SAFE_PROBABILITY = 1e-4  # below it the "seen" case is computed by itself and not by subtraction


@dataclass(frozen=True, eq=False)
class Outlook:
    """Answers a check may get: their chances (A,), and P(cause) (A, C) and P(no cause) (A,) after each."""

    chances: Floats
    marginals: Floats
    none: Floats

    @functools.cached_property
    def mean(self) -> Floats:
        """P(cause) before the answer is known, (C,): the answers' beliefs weighed by their chances."""
        result: Floats = self.chances @ self.marginals
        return result

    def bits(self, columns: Sequence[int] | None = None) -> float:
        """Expected fall of the binary entropies of the causes at `columns` (all when None), in bits, >= 0."""
        at = slice(None) if columns is None else list(columns)
        left = self.chances @ entropy(self.marginals[:, at])
        return max(0.0, float(entropy(self.mean[at]) - left))


@dataclass(frozen=True, eq=False)
class Ahead:
    """What is believed now, (C,) and none of it, and the outlook of each finding not looked at, by code.

    The first answer of a finding is "seen", the second "not seen".
    """

    marginals: Floats
    none: float
    findings: Mapping[str, Outlook]


def look_ahead(network: Network, evidence: Evidence) -> Ahead:
    """Return what each finding not looked at would say, seen and not seen.

    One extra run per finding, all in one batch, with the finding not seen. The case "seen" follows from
    P(cause) = P(seen) P(cause | seen) + P(not seen) P(cause | not seen); the subtraction costs at most the
    rounding of a double divided by P(seen), and where P(seen) is below 1e-4 a run of its own is made. No
    cause and the finding seen: P(none) leak / P(seen). Raises `UnknownCodeError` and `EvidenceError`.
    """
    located = locate(network, evidence)
    asked = np.concatenate([located.present, located.absent])
    unasked = np.setdiff1d(np.arange(len(network.findings)), asked)
    both = believe(prepare(network, located), *_now_and_missed(network, located, unasked))
    change = np.minimum(0.0, both.log_evidence[1:] - both.log_evidence[0])
    seen, none = -np.expm1(change), np.exp(np.minimum(0.0, both.log_none))
    marginals = both.marginals
    with_seen = _with_seen(network, located, unasked, marginals, seen)
    none_seen = np.clip(none[0] * network.leak[unasked] / np.maximum(seen, 1e-300), 0.0, 1.0)
    findings = {
        network.findings[at]: Outlook(
            np.array([seen[row], np.exp(change[row])]),
            np.stack([with_seen[row], marginals[row + 1]]),
            np.array([none_seen[row], none[row + 1]]),
        )
        for row, at in enumerate(unasked)
    }
    return Ahead(marginals[0], float(none[0]), findings)


def _now_and_missed(network: Network, located: Located, unasked: NDArray[np.intp]) -> tuple[Floats, Floats]:
    log_odds, constant = absorb(network, located)
    rows = log_odds + network.log_miss[:, unasked].T
    constants = constant + network.log_leak_miss[unasked] + evidence_change(log_odds, rows)
    return np.concatenate([log_odds, rows]), np.concatenate([constant, constants])


def _with_seen(
    network: Network, located: Located, unasked: NDArray[np.intp], marginals: Floats, seen: Floats
) -> Floats:
    safe = np.maximum(seen, SAFE_PROBABILITY)[:, None]
    result: Floats = (marginals[0] - (1 - seen)[:, None] * marginals[1:]) / safe
    for row in np.flatnonzero(seen < SAFE_PROBABILITY):
        present = np.sort(np.append(located.present, unasked[row]))
        more = Located(present, located.absent, located.log_odds)
        result[row] = believe(prepare(network, more), *absorb(network, more)).marginals[0]
    np.clip(result, 0.0, 1.0, out=result)
    return result


def answers_by_odds(
    network: Network, evidence: Evidence, facts: Sequence[Sequence[tuple[Mapping[str, float], float]]]
) -> list[Outlook]:
    """Return the outlook of each of some facts outside the network, given as (odds, share) of its answers.

    Each answer replaces the odds factors of `evidence` by its own `odds`; `share` is its chance before any
    finding, above 0. The chances now follow by Bayes' rule from how well each answer agrees with the
    findings: share * P(findings | odds of this answer), scaled to sum 1. All answers of all facts go
    through in one batch. Raises as `locate` does, and `ValueError` for a share that is not above 0.
    """
    if not all(share > 0 for answers in facts for _odds, share in answers):
        raise ValueError("Every answer needs a share above 0.")
    if not facts:
        return []
    variants = [Evidence(evidence.present, evidence.absent, odds) for answers in facts for odds, _ in answers]
    located = [locate(network, variant) for variant in variants]
    bases = [absorb(network, each) for each in located]
    log_odds = np.concatenate([base[0] for base in bases])
    constant = np.concatenate([base[1] for base in bases])
    beliefs = believe(prepare(network, located[0]), log_odds, constant)
    shares = np.array([share for answers in facts for _odds, share in answers])
    log_weight = np.log(shares) + beliefs.log_evidence
    ends = np.cumsum([len(answers) for answers in facts]).tolist()
    return [
        outlook_of(beliefs, log_weight, slice(end - len(answers), end))
        for answers, end in zip(facts, ends, strict=True)
    ]


def outlook_of(beliefs: Beliefs, log_weight: Floats, rows: slice = slice(None)) -> Outlook:
    """Return the outlook whose answers are `rows` of a batch, with chances in proportion to the weights."""
    weight: Floats = np.exp(log_weight[rows] - log_weight[rows].max())
    none: Floats = np.exp(np.minimum(0.0, beliefs.log_none[rows]))
    return Outlook(weight / weight.sum(), beliefs.marginals[rows], none)


def answers_of_test(
    network: Network, evidence: Evidence, cause: str, sensitivity: float, specificity: float
) -> Outlook:
    """Return the outlook of a test for one cause: positive, negative.

    `sensitivity` is P(positive | cause), `specificity` P(negative | not cause), both inside (0, 1). Raises
    `ValueError` outside it and as `locate` does.
    """
    if not (0 < sensitivity < 1 and 0 < specificity < 1):
        raise ValueError("Sensitivity and specificity must lie between 0 and 1: no test is perfect.")
    at = network.cause_index[cause]
    ratios = np.log([sensitivity / (1 - specificity), (1 - sensitivity) / specificity])
    if_not = np.log([1 - specificity, specificity])
    located = locate(network, evidence)
    log_odds, constant = absorb(network, located)
    rows = np.repeat(log_odds, 2, axis=0)
    rows[:, at] += ratios
    constants = constant + if_not + evidence_change(log_odds, rows)
    beliefs = believe(prepare(network, located), rows, constants)
    return outlook_of(beliefs, beliefs.log_evidence)


def entropy(marginals: Floats) -> Floats:
    """Sum of binary entropies in bits, over the last axis."""
    total = np.zeros(marginals.shape[:-1])
    for chance in (marginals, 1 - marginals):
        positive = np.where(chance > 0, chance, 1.0)
        total -= (chance * np.log2(positive)).sum(axis=-1)
    return total
