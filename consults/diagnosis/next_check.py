"""Which finding to look for next: the one expected to settle most."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from consults.diagnosis.errors import UnknownCodeError
from consults.diagnosis.network import Evidence, Network
from consults.diagnosis.outlook import Ahead, entropy, look_ahead

MIN_MINUTES = 0.5  # judgement: no check is quicker than half a minute, walking there included


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

    One step ahead only (see `outlook`): pairs of checks that tell something only together are not foreseen.
    """
    return checks_ahead(network, look_ahead(network, evidence), about)


def checks_ahead(network: Network, ahead: Ahead, about: Collection[str] | None = None) -> list[Check]:
    """Return `next_checks` for an outlook already worked out."""
    if not ahead.findings:
        return []
    counted = _columns(network, about)
    chances = np.stack([outlook.chances for outlook in ahead.findings.values()])
    after = np.stack([outlook.marginals for outlook in ahead.findings.values()])[:, :, counted]
    left = (chances * entropy(after)).sum(axis=1)
    bits = np.maximum(0.0, entropy(ahead.marginals[counted]) - left)
    checks = [
        Check(code, float(bit), float(chance[0]))
        for code, bit, chance in zip(ahead.findings, bits, chances, strict=True)
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
