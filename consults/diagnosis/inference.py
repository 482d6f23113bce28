"""What the findings of a case say about every cause.

Findings that were looked for and not seen are absorbed in linear time: each multiplies the odds of a
cause by (1 - strength) and the probability of the evidence by (1 - leak). Findings not looked at drop
out. Findings that were seen go through `sweep`, exactly, unless more than `MAX_WIDTH` of them hang
together; then see `bounds`.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from consults.diagnosis.bounds import Linear, choose_linked, jensen_below, tangent_above
from consults.diagnosis.network import Evidence, Floats, Located, Network, locate
from consults.diagnosis.sweep import Plan, make_plan, passing_plan, probability_of_present, sweep

MAX_WIDTH = 18  # findings open at once: 2^18 entries a table, 94 MB for 45 causes
LINKED_WIDTH = 15  # when that is not enough: kept exact, the rest bounded; four sweeps are needed


@dataclass(frozen=True)
class Posterior:
    """Probabilities after the evidence.

    `marginals`: P(cause is true | evidence) by code. `none`: P(no listed cause is true | evidence).
    `log10_evidence`: log10 P(findings present and absent | odds). When `exact` is false, every marginal
    and `none` is proven to be within `error_bound` of the true value and `log10_evidence` is the middle
    of its range.
    """

    marginals: dict[str, float]
    none: float
    log10_evidence: float
    exact: bool
    error_bound: float


@dataclass(frozen=True, eq=False)
class Beliefs:
    """Results for a batch of B variations of the same present findings; natural logarithms."""

    log_odds: Floats  # (B, C) of every cause after the evidence
    log_evidence: Floats  # (B,)
    log_none: Floats  # (B,) P(no listed cause | evidence)

    @property
    def marginals(self) -> Floats:
        """P(cause | evidence), (B, C)."""
        result: Floats = np.exp(-np.logaddexp(0.0, -self.log_odds))
        return result


@dataclass(frozen=True, eq=False)
class Question:
    """Present findings made ready for many variations of absent findings and odds.

    `shift` stands for present findings too many to be handled exactly; it is None when all are.
    """

    network: Network
    present: NDArray[np.intp]
    plan: Plan
    shift: Linear | None


def posterior(network: Network, evidence: Evidence) -> Posterior:
    """Return the probabilities of every cause given `evidence`.

    Exact up to rounding (relative 1e-12) while no more than 18 present findings are open at once (see
    `sweep`); beyond that with a proven bound. The order of codes in `evidence` changes nothing, to the
    last bit. Raises `UnknownCodeError` and `EvidenceError`.
    """
    located = locate(network, evidence)
    plan = make_plan(network, located.present)
    if plan.width > MAX_WIDTH:
        return _bounded(network, located)
    beliefs = believe(Question(network, located.present, plan, None), *absorb(network, located))
    return Posterior(
        marginals=_by_code(network, beliefs.marginals[0]),
        none=math.exp(min(0.0, beliefs.log_none[0])),
        log10_evidence=float(beliefs.log_evidence[0]) / math.log(10),
        exact=True,
        error_bound=0.0,
    )


def absorb(network: Network, located: Located) -> tuple[Floats, Floats]:
    """Return the log-odds (1, C) after the absent findings, and log P(absent findings) (1,)."""
    log_odds = located.log_odds + network.log_miss[:, located.absent].sum(axis=1)
    constant = network.log_leak_miss[located.absent].sum() + evidence_change(located.log_odds, log_odds)
    return log_odds[None, :], np.array([constant])


def evidence_change(before: Floats, after: Floats) -> Floats:
    """Return how log P(evidence) changes when factors on true causes move log-odds from `before` to `after`.

    A cause contributes (1 - p) + p m, with m the factor and p its probability: (1 + odds after) / (1 +
    odds before).
    """
    result: Floats = (np.logaddexp(0.0, after) - np.logaddexp(0.0, before)).sum(axis=-1)
    return result


def prepare(network: Network, located: Located) -> Question:
    """Return the present findings of a case ready for `believe`; beyond 18 open at once an approximation."""
    plan = make_plan(network, located.present)
    if plan.width <= MAX_WIDTH:
        return Question(network, located.present, plan, None)
    linked, loose, weights = _linked_and_guess(network, located)
    return Question(network, linked, make_plan(network, linked), tangent_above(network, loose, weights))


def believe(
    question: Question, log_odds: Floats, constant: Floats, left_out: NDArray[np.intp] | None = None
) -> Beliefs:
    """Return beliefs for a batch: log-odds (B, C) and log P (B,) of everything but the present findings.

    `left_out` (B,) holds for each row the position in the network of one present finding that does not
    count there, or -1; all count when it is None.
    """
    network, shift = question.network, question.shift
    if left_out is None:
        left_out = np.full(len(log_odds), -1, dtype=np.intp)
    leaks = float(np.log(network.leak[question.present]).sum()) - _log_leak(network, left_out)
    if shift is not None:
        before, slopes, constants = log_odds, *_shifts(shift, left_out)
        log_odds = log_odds + slopes
        constant = constant + constants + evidence_change(before, log_odds)
        leaks = leaks + float(np.log(network.leak[shift.findings]).sum()) - constants
    gains, log_present = sweep(question.plan, log_odds, _places(question.present, left_out))
    log_none = leaks - np.logaddexp(0.0, log_odds).sum(axis=1) - log_present
    return Beliefs(log_odds + gains, constant + log_present, log_none)


def log_evidence(network: Network, located: Located) -> tuple[float, float]:
    """Return log P(present and absent findings) and log P(absent findings), for a case asked about once.

    Cheaper than `believe`: nothing is worked out about the causes and no plan is kept.
    """
    log_odds, constant = absorb(network, located)
    plan = passing_plan(network, tuple(located.present.tolist()))
    if plan.width > MAX_WIDTH:
        whole = believe(prepare(network, located), log_odds, constant).log_evidence[0]
    else:
        whole = constant[0] + probability_of_present(plan, log_odds)[0]
    return float(whole), float(constant[0])


def _log_leak(network: Network, left_out: NDArray[np.intp]) -> Floats:
    """log leak of the finding left out of each row, 0 where none is, (B,)."""
    result: Floats = np.where(left_out >= 0, np.log(network.leak[left_out]), 0.0)
    return result


def _places(among: NDArray[np.intp], positions: NDArray[np.intp]) -> NDArray[np.intp]:
    """Places of `positions` in the sorted `among`, -1 for those not in it."""
    places = np.searchsorted(among, positions)
    inside = np.isin(positions, among)
    return np.where(inside, places, -1)


def _shifts(shift: Linear, left_out: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Slopes (B, C) and constants (B,) of the loosened findings, without the one left out of each row."""
    slopes = np.repeat(shift.slopes[None, :], len(left_out), axis=0)
    constants = np.full(len(left_out), shift.constant)
    for row, place in enumerate(_places(shift.findings, left_out)):
        if place >= 0:
            slopes[row] -= shift.each_slope[:, place]
            constants[row] -= shift.each_constant[place]
    return slopes, constants


def _by_code(network: Network, values: Floats) -> dict[str, float]:
    return {code: float(value) for code, value in zip(network.causes, values, strict=True)}


def _linked_and_guess(
    network: Network, located: Located
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Return the findings kept exact, those bounded, and a guess of the marginals to bound them around."""
    linked, loose = choose_linked(network, located.present, LINKED_WIDTH)
    plan, base = make_plan(network, linked), absorb(network, located)
    guess = believe(Question(network, linked, plan, None), *base).marginals[0]
    shift = tangent_above(network, loose, guess)
    return linked, loose, believe(Question(network, linked, plan, shift), *base).marginals[0]


def _bounded(network: Network, located: Located) -> Posterior:
    """Return the middle of proven intervals.

    `above` and `below` bound P(evidence and causes) for every combination of causes (proofs in `bounds`),
    hence also its sums with a cause true (T) and false (F). T/(T + F) rises with T and falls with F, so
    the marginal lies between T_below/(T_below + F_above) and T_above/(T_above + F_below). P(evidence and
    no cause) is known exactly; `none` divides it by the two bounds of P(evidence).
    """
    linked, loose, guess = _linked_and_guess(network, located)
    plan, base = make_plan(network, linked), absorb(network, located)
    above = believe(Question(network, linked, plan, tangent_above(network, loose, guess)), *base)
    below = believe(Question(network, linked, plan, jensen_below(network, loose, guess)), *base)
    high_true, high_false = _true_and_false(above)
    low_true, low_false = _true_and_false(below)
    lowest = np.exp(-np.logaddexp(0.0, high_false - low_true))
    highest = np.exp(-np.logaddexp(0.0, low_false - high_true))
    none_log = float(above.log_none[0] + above.log_evidence[0])
    none_ends = np.exp(np.minimum(0.0, none_log - np.array([above.log_evidence[0], below.log_evidence[0]])))
    half = max(float((highest - lowest).max()), float(none_ends[1] - none_ends[0])) / 2
    return Posterior(
        marginals=_by_code(network, (lowest + highest) / 2),
        none=float(none_ends.mean()),
        log10_evidence=float(above.log_evidence[0] + below.log_evidence[0]) / 2 / math.log(10),
        exact=False,
        error_bound=min(1.0, half + 1e-12),
    )


def _true_and_false(beliefs: Beliefs) -> tuple[Floats, Floats]:
    """Return log P(evidence, cause true) and log P(evidence, cause false), each (C,)."""
    log_odds = beliefs.log_odds[0]
    return (
        beliefs.log_evidence[0] - np.logaddexp(0.0, -log_odds),
        beliefs.log_evidence[0] - np.logaddexp(0.0, log_odds),
    )
