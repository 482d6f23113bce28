"""Which finding to look for next: the one expected to settle most."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from consults.diagnosis.errors import UnknownCodeError
from consults.diagnosis.inference import Beliefs, Question, absorb, believe, evidence_change, prepare
from consults.diagnosis.network import Evidence, Floats, Located, Network, locate

MIN_MINUTES = 0.5  # judgement: no check is quicker than half a minute, walking there included
SAFE_PROBABILITY = 1e-4  # below it the "seen" case is computed by itself and not by subtraction


@dataclass(frozen=True)
class Check:
    """A finding not looked at yet.

    `bits`: expected fall of the causes' binary entropies, added up; never negative. `probability`: chance
    that it will be seen.
    """

    code: str
    bits: float
    probability: float


def next_checks(network: Network, evidence: Evidence, about: Collection[str] | None = None) -> list[Check]:
    """Return every finding not looked at, with what looking is expected to settle, most first, ties by code.

    `about`: codes of the causes whose uncertainty counts; all of them when None. Naming those in question
    keeps a check of something nobody suspects from winning by settling many small doubts. Raises
    `UnknownCodeError` for a code that is no cause of the network.

    One extra run per finding, all in one batch, with the finding not seen. The case "seen" follows from
    P(cause) = P(seen) P(cause | seen) + P(not seen) P(cause | not seen); the subtraction costs at most the
    rounding of a double divided by P(seen), and where P(seen) is below 1e-4 a run of its own is made.
    One step ahead only: pairs of checks that tell something only together are not foreseen.
    """
    located = locate(network, evidence)
    asked = evidence.present | evidence.absent
    unasked = [at for at, code in enumerate(network.findings) if code not in asked]
    if not unasked:
        return []
    question, base = prepare(network, located), absorb(network, located)
    now = believe(question, *base)
    missed = _missed(network, question, base, unasked)
    not_seen = np.exp(np.minimum(0.0, missed.log_evidence - now.log_evidence))
    seen = -np.expm1(np.minimum(0.0, missed.log_evidence - now.log_evidence))
    with_seen = _with_seen(network, located, unasked, now, missed, seen)
    counted = _columns(network, about)
    left = not_seen * _entropy(missed.marginals[:, counted]) + seen * _entropy(with_seen[:, counted])
    bits = np.maximum(0.0, _entropy(now.marginals[:, counted]) - left)
    checks = [
        Check(network.findings[at], float(bit), float(chance))
        for at, bit, chance in zip(unasked, bits, seen, strict=True)
    ]
    return sorted(checks, key=lambda check: (-check.bits, check.code))


def rank_checks(
    checks: Iterable[Check], minutes: Mapping[str, float], floor: float = MIN_MINUTES
) -> list[Check]:
    """Return `checks` by bits per minute, most first, ties by code.

    `minutes` holds the time of every check (one without an entry takes `floor`); less than `floor`, in
    minutes and above 0, counts as `floor`, so that a glance does not win by dividing by almost nothing.
    """
    if not floor > 0:
        raise ValueError(f"The floor is {floor} minutes; it must be above 0.")
    return sorted(
        checks, key=lambda check: (-check.bits / max(minutes.get(check.code, floor), floor), check.code)
    )


def _columns(network: Network, about: Collection[str] | None) -> list[int]:
    if about is None:
        return list(range(len(network.causes)))
    for code in sorted(about):
        if code not in network.causes:
            raise UnknownCodeError("cause", code, network.causes)
    return [at for at, code in enumerate(network.causes) if code in about]


def _missed(network: Network, question: Question, base: tuple[Floats, Floats], unasked: list[int]) -> Beliefs:
    log_odds, constant = base
    rows = log_odds + network.log_miss[:, unasked].T
    return believe(
        question, rows, constant + network.log_leak_miss[unasked] + evidence_change(log_odds, rows)
    )


def _with_seen(
    network: Network, located: Located, unasked: list[int], now: Beliefs, missed: Beliefs, seen: Floats
) -> Floats:
    safe = np.maximum(seen, SAFE_PROBABILITY)[:, None]
    marginals = (now.marginals - (1 - seen)[:, None] * missed.marginals) / safe
    for row in np.flatnonzero(seen < SAFE_PROBABILITY):
        present = np.sort(np.append(located.present, unasked[row]))
        more = Located(present, located.absent, located.log_odds)
        marginals[row] = believe(prepare(network, more), *absorb(network, more)).marginals[0]
    return np.clip(marginals, 0.0, 1.0)


def _entropy(marginals: Floats) -> Floats:
    """Sum of binary entropies in bits, over the last axis."""
    total = np.zeros(marginals.shape[:-1])
    for chance in (marginals, 1 - marginals):
        positive = np.where(chance > 0, chance, 1.0)
        total -= (chance * np.log2(positive)).sum(axis=-1)
    return total
