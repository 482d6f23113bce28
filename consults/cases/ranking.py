"""From a case file to a ranked list of causes with reasons. Pure: no Django, no database.

The result is plain data, numbers and codes; sentences are made where it is shown.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from consults.cases.casefile import CaseFile
from consults.cases.facts import Facts, gather
from consults.cases.protect import protecting_checks
from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.combinations import Combination, combinations
from consults.diagnosis.explain import Explanation, Reason, explain
from consults.diagnosis.fit import Fit, enough_to_tell, fit
from consults.diagnosis.inference import Posterior, posterior
from consults.diagnosis.network import Evidence, Network, OddsFactor
from consults.diagnosis.next_check import Check, checks_ahead, rank_checks
from consults.diagnosis.outlook import look_ahead
from consults.ruleset.compile import (
    CompiledEvidence,
    Context,
    build_evidence,
    build_network,
    odds_factors,
    odds_of,
)
from consults.ruleset.conditions import condition_states
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Finding
from garden.reference.schema import Reference

CHECKS_SHOWN = 8
NOTICED_BITS = 0.05  # below it a reason is not worth reading
WORTH_ASKING_BITS = 0.02  # below it a check settles nothing
# Judgement: probability from which a cause of something seen, and any other cause, is in question.
IN_QUESTION = (0.02, 0.3)


@dataclass(frozen=True)
class Ranked:
    """One cause with its probability after all evidence, and its reasons, strongest first."""

    code: str
    probability: float
    supports: tuple[Reason, ...]
    against: tuple[Reason, ...]


@dataclass(frozen=True)
class Ranking:
    """The whole reckoning of a case under one version of the rules."""

    ruleset_version: str
    causes: tuple[Ranked, ...]
    combinations: tuple[Combination, ...]
    checks: tuple[Check, ...]
    posterior: Posterior
    fit: Fit
    enough: bool
    conditions: dict[str, bool]


def rank_case(case: CaseFile, ruleset: Ruleset, reference: Reference) -> Ranking:
    """Return every cause with its exact probability and reasons, and the checks worth making next.

    The story is never read; `expected` neither. A finding or practice that these rules do not list (an old
    case under newer rules) says nothing. Bands are those of `reference` now: a case judged by a shop's own
    crop profile is ranked again by that profile as it has become. An issued plan keeps its snapshot.
    """
    assembled = assemble(case, ruleset, reference)
    network, evidence = assembled.network, assembled.evidence
    beliefs = posterior(network, evidence)
    reasons = explain(network, evidence, assembled.factors)
    judged = fit(network, evidence)
    checks = _checks(assembled, beliefs)
    found = {**beliefs.marginals, NONE_OF_THESE: beliefs.none}
    return Ranking(
        ruleset_version=ruleset.version,
        causes=tuple(
            _ranked(code, found[code], reasons[code])
            for code in sorted(found, key=lambda code: (-found[code], code))
        ),
        combinations=tuple(combinations(network, evidence)),
        checks=tuple(checks[:CHECKS_SHOWN]),
        posterior=beliefs,
        fit=judged,
        enough=enough_to_tell(beliefs, judged.verdict),
        conditions=assembled.conditions,
    )


def assemble(case: CaseFile, ruleset: Ruleset, reference: Reference) -> "Assembled":
    """Return a case as evidence for the network of `ruleset`, with the facts and conditions behind it."""
    facts = gather(case, reference)
    conditions = condition_states(ruleset.conditions, facts.judged, facts.band)
    evidence, factors = _evidence(facts, ruleset, conditions)
    return Assembled(facts, ruleset, build_network(ruleset), conditions, evidence, factors)


@dataclass(frozen=True)
class Assembled:
    """A case made ready for the engine."""

    facts: Facts
    ruleset: Ruleset
    network: Network
    conditions: dict[str, bool]
    evidence: Evidence
    factors: dict[str, tuple[OddsFactor, ...]]

    def odds_with(
        self, causes: Iterable[str], states: Mapping[str, bool], practices: Iterable[str]
    ) -> dict[str, float]:
        """Odds factors of all causes when these conditions and habits are known too.

        `causes`: those whose rules speak of them; for the others nothing changes.
        """
        known = frozenset(code for code in self.facts.case.practices if code in self.ruleset.practices)
        asked = [self.ruleset.causes[code] for code in causes]
        factors = odds_factors(
            asked, _context(self.facts), {**self.conditions, **states}, known | frozenset(practices)
        )
        unmoved = {cause.code: 1.0 for cause in asked}
        return {**self.evidence.odds, **unmoved, **odds_of(factors)}


def _checks(assembled: Assembled, beliefs: Posterior) -> list[Check]:
    """Findings worth looking for, by bits per minute, those that protect other plants first."""
    network, ruleset = assembled.network, assembled.ruleset
    ahead = look_ahead(network, assembled.evidence)
    asked = checks_ahead(network, ahead, in_question(network, assembled.evidence, beliefs))
    there = [c for c in asked if can_be_there(ruleset.findings[c.code], assembled.facts)]
    first = list(protecting_checks(network, ahead, ruleset, [check.code for check in there]))
    worth = [check for check in there if check.bits >= WORTH_ASKING_BITS or check.code in first]
    ranked = rank_checks(worth, {code: finding.minutes for code, finding in ruleset.findings.items()})
    return sorted(ranked, key=lambda check: first.index(check.code) if check.code in first else len(first))


def in_question(network: Network, evidence: Evidence, beliefs: Posterior) -> set[str] | None:
    """The causes a check should be about: those that would explain something seen, and those likely anyway.

    None, meaning all, when nothing was seen and nothing is likely. Without this the many causes nobody
    suspects, each a little uncertain, would choose the checks.
    """
    seen = [network.findings.index(code) for code in sorted(evidence.present)]
    explains = network.strength[:, seen].sum(axis=1) > 0
    suspected = {
        code
        for at, code in enumerate(network.causes)
        if beliefs.marginals[code] >= (IN_QUESTION[0] if explains[at] else IN_QUESTION[1])
    }
    return suspected or None


def can_be_there(finding: Finding, facts: Facts) -> bool:
    """Whether these plants have the part the finding is about: no fruit on lettuce, no pot on a raft."""
    stage = facts.case.planting.stage
    system = facts.reference.systems.get(facts.case.planting.system or "")
    if finding.part in ("flower", "fruit"):
        fruiting = facts.crop.code == "generic-fruiting" or facts.crop.profile_of == "generic-fruiting"
        return fruiting and stage in (None, "flowering", "fruiting")
    if finding.part == "seedling":
        return stage in (None, "germination", "seedling")
    if finding.part == "cutting":
        return stage in (None, "cutting")
    if system is not None and finding.part == "solution":
        return system.recirculating
    if system is not None and finding.part == "medium":
        return system.container
    return True


def _context(facts: Facts) -> Context:
    planting = facts.case.planting
    return Context(
        crop=facts.crop.kind_of or planting.crop,
        stage=planting.stage,
        system=planting.system,
        medium=planting.medium,
        profile=planting.profile or facts.crop.profile_of or facts.crop.code,
    )


def _evidence(facts: Facts, ruleset: Ruleset, conditions: dict[str, bool]) -> CompiledEvidence:
    return build_evidence(
        ruleset,
        **_context(facts)._asdict(),
        present=[code for code in facts.case.present if code in ruleset.findings],
        absent=[code for code in facts.case.absent if code in ruleset.findings],
        practices=[code for code in facts.case.practices if code in ruleset.practices],
        condition_states=conditions,
    )


def _ranked(code: str, probability: float, explanation: Explanation) -> Ranked:
    return Ranked(
        code, probability, *(_worth_reading(kind) for kind in (explanation.supports, explanation.against))
    )


def _worth_reading(reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
    return tuple(reason for reason in reasons if abs(reason.bits) >= NOTICED_BITS)


def ranking_json(ranking: Ranking, ruleset: Ruleset, *, top: int | None = None) -> dict[str, Any]:
    """The ranking in the published form of `manage.py diagnose --json`. `top` cuts only `causes`."""

    def reasons(found: tuple[Reason, ...]) -> list[dict[str, Any]]:
        return [{"kind": r.kind, "code": r.code, "bits": r.bits} for r in found]

    def name(code: str) -> str:
        return "None of these" if code == NONE_OF_THESE else ruleset.causes[code].name["en"]

    return {
        "ruleset": ranking.ruleset_version,
        "exact": ranking.posterior.exact,
        "error_bound": ranking.posterior.error_bound,
        "fit": {"log10_evidence": ranking.fit.log10_evidence, "verdict": ranking.fit.verdict},
        "enough_to_tell": ranking.enough,
        "causes": [
            {
                "code": c.code,
                "name": name(c.code),
                "probability": c.probability,
                "for": reasons(c.supports),
                "against": reasons(c.against),
            }
            for c in ranking.causes[:top]
        ],
        "combinations": [
            {"causes": list(c.causes), "probability": c.probability} for c in ranking.combinations
        ],
        "next_checks": [
            {
                "code": check.code,
                "name": ruleset.findings[check.code].name["en"],
                "bits": check.bits,
                "minutes": ruleset.findings[check.code].minutes,
            }
            for check in ranking.checks
        ],
    }
