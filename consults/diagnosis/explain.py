"""Why a cause ranks where it does, as weights of evidence in bits."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.inference import Beliefs, absorb, believe, evidence_change, prepare
from consults.diagnosis.network import Evidence, Floats, Located, Network, OddsFactor, locate

SMALLEST_BITS = 1e-9  # below it a weight is rounding, not evidence
CERTAIN = 1e-12  # "some listed cause" less probable than this is taken as this: doubles hold no more


@dataclass(frozen=True)
class Reason:
    """One piece of evidence and its weight in bits; +1 doubles the odds of the cause, -1 halves them.

    `kind` is finding, reading, practice or context.
    """

    kind: str
    code: str
    bits: float


@dataclass(frozen=True)
class Explanation:
    """What speaks for a cause, against it, and what its setting (crop, stage, system, medium) adds.

    Each longest first, ties by kind and code.
    """

    supports: tuple[Reason, ...]
    against: tuple[Reason, ...]
    context: tuple[Reason, ...]


def explain(
    network: Network, evidence: Evidence, factors: Mapping[str, Sequence[OddsFactor]]
) -> dict[str, Explanation]:
    """Return an explanation for every cause and for `none-of-these`.

    The weight of a finding for a cause is log2 of P(finding as found | cause, all other evidence) /
    P(finding as found | not cause, all other evidence). By Bayes' rule that is the log-odds of the cause
    with all evidence less its log-odds with this finding left out, which is how it is computed, exactly.
    It measures what a finding adds last: two findings that say the same thing each get little, so the
    weights of a cause need not add up to its whole change. An odds factor weighs log2(factor), as given
    in `factors` by cause. Raises `UnknownCodeError` and `EvidenceError`.
    """
    located = locate(network, evidence)
    codes = [network.findings[at] for at in (*located.absent, *located.present)]
    log_odds = _leaving_out(network, located)
    bits = (log_odds[0] - log_odds[1:]) / math.log(2)
    result: dict[str, Explanation] = {}
    for column, cause in enumerate((*network.causes, NONE_OF_THESE)):
        reasons = [
            Reason("finding", code, float(bit)) for code, bit in zip(codes, bits[:, column], strict=True)
        ]
        reasons += [Reason(item.kind, item.code, math.log2(item.factor)) for item in factors.get(cause, ())]
        result[cause] = _arranged(reasons)
    return result


def _leaving_out(network: Network, located: Located) -> Floats:
    """Log-odds with all findings, then with each absent, then each present one left out, in one batch."""
    log_odds, constant = absorb(network, located)
    absent, present = located.absent, located.present
    fewer = log_odds - network.log_miss[:, absent].T
    constants = constant - network.log_leak_miss[absent] + evidence_change(log_odds, fewer)
    rows = np.concatenate([log_odds, fewer, np.repeat(log_odds, len(present), axis=0)])
    constants = np.concatenate([constant, constants, np.repeat(constant, len(present))])
    left_out = np.concatenate([np.full(1 + len(absent), -1, dtype=np.intp), present])
    return _log_odds(believe(prepare(network, located), rows, constants, left_out))


def _log_odds(beliefs: Beliefs) -> Floats:
    """Log-odds of every cause and, last, of no listed cause: (B, C + 1)."""
    log_none = np.minimum(beliefs.log_none, -CERTAIN)
    none = log_none - np.log(-np.expm1(log_none))
    return np.concatenate([beliefs.log_odds, none[:, None]], axis=1)


def _arranged(reasons: list[Reason]) -> Explanation:
    kept = sorted(
        (reason for reason in reasons if abs(reason.bits) > SMALLEST_BITS),
        key=lambda reason: (-abs(reason.bits), reason.kind, reason.code),
    )
    return Explanation(
        supports=tuple(reason for reason in kept if reason.kind != "context" and reason.bits > 0),
        against=tuple(reason for reason in kept if reason.kind != "context" and reason.bits < 0),
        context=tuple(reason for reason in kept if reason.kind == "context"),
    )
