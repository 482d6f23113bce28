"""Turns a rule set into a network, and what is known about a case into evidence for it."""

import functools
import math
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from consults.diagnosis.errors import UnknownCodeError
from consults.diagnosis.network import Evidence, Network, OddsFactor, locate
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Cause, PriorFactor

# Judgement: together, context, readings and practices may not move the odds of a cause further than two
# full single factors (8 x 8). They are not independent of each other: a warm room warms the root zone too.
MAX_ODDS = 64.0


class CompiledEvidence(NamedTuple):
    """Evidence for the network, and the odds factors behind it by cause (only causes that have any)."""

    evidence: Evidence
    factors: dict[str, tuple[OddsFactor, ...]]


class Context(NamedTuple):
    """Where the plants grow, as reference codes; None where it is not known."""

    crop: str | None = None
    stage: str | None = None
    system: str | None = None
    medium: str | None = None
    profile: str | None = None

    def places(self) -> dict[str, set[str | None]]:
        """What each list of a prior factor is compared with; a profile list also matches the crop."""
        return {
            "crops": {self.crop}, "stages": {self.stage}, "systems": {self.system},
            "media": {self.medium}, "profiles": {self.profile, self.crop},
        }  # fmt: skip


@functools.lru_cache(maxsize=16)
def build_network(ruleset: Ruleset) -> Network:
    """Return the network of `ruleset`, causes and findings in order of code; built once for each version."""
    causes, findings = tuple(ruleset.causes.values()), tuple(ruleset.findings)
    place = {code: at for at, code in enumerate(findings)}
    strength = np.zeros((len(causes), len(findings)))
    for row, cause in enumerate(causes):
        for link in cause.findings:
            strength[row, place[link.finding]] = link.probability
    return Network(
        causes=tuple(ruleset.causes),
        findings=findings,
        prior=np.array([cause.prior_probability for cause in causes]),
        leak=np.array([finding.leak for finding in ruleset.findings.values()]),
        strength=strength,
    )


def build_evidence(
    ruleset: Ruleset,
    *,
    crop: str | None = None,
    stage: str | None = None,
    system: str | None = None,
    medium: str | None = None,
    profile: str | None = None,
    present: Iterable[str] = (),
    absent: Iterable[str] = (),
    practices: Iterable[str] = (),
    condition_states: Mapping[str, bool] | None = None,
) -> CompiledEvidence:
    """Return the evidence of a case and the odds factors applied to each cause.

    `crop`, `stage`, `system`, `medium` and `profile` are reference codes or None; a profile list also
    matches when the crop is itself that profile. `practices` are those reported: one not reported says
    nothing. `condition_states` comes from `conditions.condition_states`. The factors of a cause multiply,
    each within 1/8..8 by the schema. A product outside 1/64..64 is drawn back to that range by lowering
    every factor to the same power, so that the factors returned always multiply to the odds that were
    used. Raises `UnknownCodeError` for a code that is not in the rule set and `EvidenceError` for a
    finding in both lists.
    """
    states = dict(condition_states or {})
    reported = frozenset(practices)
    _check_known("practice", reported, ruleset.practices)
    _check_known("condition", states, ruleset.conditions)
    context = Context(crop, stage, system, medium, profile)
    factors = odds_factors(ruleset.causes.values(), context, states, reported)
    evidence = Evidence(frozenset(present), frozenset(absent), odds_of(factors))
    locate(build_network(ruleset), evidence)
    return CompiledEvidence(evidence, factors)


def odds_factors(
    causes: Iterable[Cause], context: Context, states: Mapping[str, bool], practices: frozenset[str]
) -> dict[str, tuple[OddsFactor, ...]]:
    """Return the odds factors of those `causes` that have any, drawn back to 1/64..64 as described above."""
    places = context.places()
    found = {
        cause.code: _capped([*_of_context(cause, places), *_of_case(cause, states, practices)])
        for cause in causes
    }
    return {code: applied for code, applied in found.items() if applied}


def odds_of(factors: Mapping[str, tuple[OddsFactor, ...]]) -> dict[str, float]:
    """Return the product of the factors of each cause."""
    return {code: math.prod(item.factor for item in applied) for code, applied in factors.items()}


def _check_known(kind: str, codes: Iterable[str], known: Mapping[str, object]) -> None:
    for code in sorted(codes):
        if code not in known:
            raise UnknownCodeError(kind, code, known)


def _of_context(cause: Cause, context: Mapping[str, set[str | None]]) -> Iterator[OddsFactor]:
    for factor in cause.prior_factors:
        matched = _matched(factor, context)
        if matched:
            yield OddsFactor("context", "+".join(matched), factor.factor)


def _matched(factor: PriorFactor, context: Mapping[str, set[str | None]]) -> list[str]:
    """Return the codes of the context that a prior factor asks for, or nothing when one list has no match."""
    matched: list[str] = []
    for kind, codes in context.items():
        wanted: tuple[str, ...] = getattr(factor, kind)
        if not wanted:
            continue
        found = [code for code in wanted if code in codes]
        if not found:
            return []
        matched += found
    return matched


def _of_case(cause: Cause, states: Mapping[str, bool], reported: frozenset[str]) -> Iterator[OddsFactor]:
    for link in cause.readings:
        if link.condition in states:
            yield OddsFactor(
                "reading", link.condition, link.if_true if states[link.condition] else link.if_false
            )
    for practice in cause.practices:
        if practice.practice in reported:
            yield OddsFactor("practice", practice.practice, practice.if_true)


def _capped(factors: list[OddsFactor]) -> tuple[OddsFactor, ...]:
    kept = sorted((item for item in factors if item.factor != 1.0), key=lambda item: (item.kind, item.code))
    total = sum(math.log(item.factor) for item in kept)
    if abs(total) <= math.log(MAX_ODDS):
        return tuple(kept)
    power = math.log(MAX_ODDS) / abs(total)
    return tuple(OddsFactor(item.kind, item.code, item.factor**power) for item in kept)
