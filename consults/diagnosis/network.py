"""The network of causes and findings, and what is known about one case.

Causes are independent beforehand and several may be true at once. A finding is produced by each true cause
with its strength, or by something not listed with its leak, independently of each other ("noisy-OR"):

    P(finding present | causes) = 1 - (1 - leak) * product over true causes of (1 - strength)
"""

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.errors import EvidenceError, NetworkError, UnknownCodeError

Floats = NDArray[np.float64]

MIN_LEAK = 1e-6  # below it a stray finding forces absurd causes, and tables could underflow
MAX_ODDS_FACTOR = 1e12


@dataclass(frozen=True, eq=False)
class Network:
    """A checked two-layer noisy-OR network.

    `causes` and `findings` are codes without repetition, `prior` (C,) holds probabilities in (0, 1), `leak`
    (F,) probabilities in [1e-6, 1) and `strength` (C, F) probabilities in [0, 1), 0 where the cause does
    not touch the finding. The arrays are copied and read-only. Raises `NetworkError`.
    """

    causes: tuple[str, ...]
    findings: tuple[str, ...]
    prior: Floats
    leak: Floats
    strength: Floats

    def __post_init__(self) -> None:
        size = (len(self.causes), len(self.findings))
        _check_codes("cause", self.causes)
        _check_codes("finding", self.findings)
        object.__setattr__(self, "causes", tuple(self.causes))
        object.__setattr__(self, "findings", tuple(self.findings))
        for name, shape in (("prior", size[:1]), ("leak", size[1:]), ("strength", size)):
            object.__setattr__(self, name, _read_only(name, getattr(self, name), shape))
        if not np.all((self.prior > 0) & (self.prior < 1)):
            raise NetworkError("Every prior must be above 0 and below 1.")
        if not np.all((self.leak >= MIN_LEAK) & (self.leak < 1)):
            raise NetworkError(
                f"Every leak must be at least {MIN_LEAK:g} and below 1: something unlisted may show anything."
            )
        if not np.all((self.strength >= 0) & (self.strength < 1)):
            raise NetworkError("Every strength must be at least 0 and below 1.")

    @functools.cached_property
    def cause_index(self) -> Mapping[str, int]:
        """Position of every cause."""
        return MappingProxyType({code: at for at, code in enumerate(self.causes)})

    @functools.cached_property
    def finding_index(self) -> Mapping[str, int]:
        """Position of every finding."""
        return MappingProxyType({code: at for at, code in enumerate(self.findings)})

    @functools.cached_property
    def log_miss(self) -> Floats:
        """log(1 - strength), (C, F): what an absent finding adds to the log-odds of a cause."""
        result: Floats = np.log1p(-self.strength)
        return result

    @functools.cached_property
    def log_leak_miss(self) -> Floats:
        """log(1 - leak), (F,)."""
        result: Floats = np.log1p(-self.leak)
        return result

    @functools.cached_property
    def log_odds(self) -> Floats:
        """log(prior / (1 - prior)), (C,)."""
        result: Floats = np.log(self.prior) - np.log1p(-self.prior)
        return result


@dataclass(frozen=True)
class Evidence:
    """What is known about a case: findings seen, findings looked for and not seen, odds factors by cause.

    Findings in neither set were not looked at and say nothing. `odds` holds for each cause the product of
    the factors of context, readings and practices, above 0; a cause without entry has factor 1.
    """

    present: frozenset[str] = frozenset()
    absent: frozenset[str] = frozenset()
    odds: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class OddsFactor:
    """One factor on the odds of a cause: `kind` is context, reading or practice."""

    kind: str
    code: str
    factor: float


@dataclass(frozen=True, eq=False)
class Located:
    """Evidence checked against a network, as sorted positions, so that the order of entry cannot matter."""

    present: NDArray[np.intp]
    absent: NDArray[np.intp]
    log_odds: Floats  # (C,) of the causes before any finding


def locate(network: Network, evidence: Evidence) -> Located:
    """Return `evidence` as sorted positions in `network`.

    Raises `UnknownCodeError` for a code not in the network and `EvidenceError` for a finding both present
    and absent or an odds factor that is not a number within 1e-12..1e12.
    """
    both = sorted(evidence.present & evidence.absent)
    if both:
        raise EvidenceError(f"Both present and absent: {', '.join(both)}. Keep each finding in one list.")
    log_odds = network.log_odds.copy()
    for code, factor in sorted(evidence.odds.items()):
        if code not in network.cause_index:
            raise UnknownCodeError("cause", code, network.causes)
        if not (math.isfinite(factor) and 1 / MAX_ODDS_FACTOR <= factor <= MAX_ODDS_FACTOR):
            raise EvidenceError(
                f"The odds factor of '{code}' is {factor}; allowed are numbers from {1 / MAX_ODDS_FACTOR:g} "
                f"to {MAX_ODDS_FACTOR:g}."
            )
        log_odds[network.cause_index[code]] += math.log(factor)
    return Located(_positions(network, evidence.present), _positions(network, evidence.absent), log_odds)


def _positions(network: Network, codes: frozenset[str]) -> NDArray[np.intp]:
    for code in sorted(codes):
        if code not in network.finding_index:
            raise UnknownCodeError("finding", code, network.findings)
    return np.array(sorted(network.finding_index[code] for code in codes), dtype=np.intp)


def _check_codes(kind: str, codes: tuple[str, ...]) -> None:
    if not codes:
        raise NetworkError(f"A network needs at least one {kind}.")
    repeated = sorted({code for code in codes if codes.count(code) > 1})
    if repeated:
        raise NetworkError(f"The {kind} codes {', '.join(repeated)} are given more than once.")
    if NONE_OF_THESE in codes:
        raise NetworkError(f"'{NONE_OF_THESE}' is reserved and cannot name a {kind}.")


def _read_only(name: str, values: ArrayLike, shape: tuple[int, ...]) -> Floats:
    array = np.array(values, dtype=np.float64)
    if array.shape != shape:
        raise NetworkError(f"'{name}' has the shape {array.shape}; {shape} is needed.")
    array.setflags(write=False)
    return array
