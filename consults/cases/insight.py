"""Reasons beyond the weights: what was not looked at, what would turn the order, what tells rivals apart.

Pure: no Django, no database. Codes and numbers only; words are made where they are shown.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from consults.cases.casefile import CaseFile
from consults.cases.checks import Advice, Reply, Step, advise
from consults.cases.decision import Decision, same_deed
from consults.cases.effort import WAYS, Way, per_minute
from consults.cases.ranking import Assembled, assemble, can_be_there, in_question
from consults.diagnosis.inference import Posterior, posterior
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import STRENGTHS
from garden.reference.schema import Reference

EXPECTED_FROM = STRENGTHS["often"]  # strength from which a cause is expected to show a finding
RIVALS = 3  # how many causes stand beside the first one
RIVAL_FROM = 0.02  # probability below which a cause is no rival; judgement
TELLING_BITS = 1.0  # a finding tells two causes apart when one answer at least doubles the odds between them
SEPARATORS = 6

Seen = Literal["seen", "not-seen", "not-looked"]


@dataclass(frozen=True)
class Unlooked:
    """A finding that the cause, were it true, would show with `strength` (0..1), and nobody looked for."""

    code: str
    strength: float
    way: Way
    minutes: float


@dataclass(frozen=True)
class Turn:
    """One answer to one check that would change what is done.

    `first_before` and `first_after` are the same when only the actions change; `added` and `dropped` are
    codes of actions, sorted.
    """

    kind: str
    code: str
    answer: str
    chance: float
    first_before: str
    first_after: str
    added: tuple[str, ...]
    dropped: tuple[str, ...]
    way: Way
    minutes: float

    @property
    def changes_first(self) -> bool:
        """Whether another cause would come first."""
        return self.first_after != self.first_before


@dataclass(frozen=True)
class Separator:
    """A finding that tells the first cause from a rival.

    `bits_if_seen` and `bits_if_not`: weight of each answer, log2 of P(answer | only the first cause) /
    P(answer | only the rival); above 0 it speaks for the first cause. `divergence` (bits, >= 0) is what
    looking tells on average, whichever of the two is true: (P(seen | first) - P(seen | rival)) times the
    difference of the two weights. `state` says what is known already.
    """

    code: str
    bits_if_seen: float
    bits_if_not: float
    divergence: float
    state: Seen
    way: Way
    minutes: float

    @property
    def points_to_first(self) -> bool:
        """Whether seeing it speaks for the first cause rather than for the rival."""
        return self.bits_if_seen > 0


@dataclass(frozen=True)
class LookAlike:
    """The first cause beside one rival, with the findings that tell them apart, the most telling first."""

    first: str
    rival: str
    separators: tuple[Separator, ...]


@dataclass(frozen=True)
class Insight:
    """`unlooked` by cause (causes in question only), the turns (likeliest first), the look-alikes."""

    advice: Advice
    unlooked: Mapping[str, tuple[Unlooked, ...]]
    turns: tuple[Turn, ...]
    look_alikes: tuple[LookAlike, ...]


def look_deeper(case: CaseFile, ruleset: Ruleset, reference: Reference) -> Insight:
    """Return what lies behind the ranking of a case. Raises as `rank_case` does."""
    assembled = assemble(case, ruleset, reference)
    beliefs = posterior(assembled.network, assembled.evidence)
    advice = advise(case, ruleset, reference)
    asked = in_question(assembled.network, assembled.evidence, beliefs) or set()
    return Insight(
        advice=advice,
        unlooked={code: unlooked(assembled, code) for code in sorted(asked)},
        turns=turns(advice, ruleset),
        look_alikes=look_alikes(assembled, beliefs),
    )


def unlooked(assembled: Assembled, cause: str) -> tuple[Unlooked, ...]:
    """Return the findings the cause shows often or almost always that nobody looked for, strongest first."""
    network, evidence = assembled.network, assembled.evidence
    at = network.cause_index[cause]
    found = []
    for place, code in enumerate(network.findings):
        strength, finding = float(network.strength[at, place]), assembled.ruleset.findings[code]
        asked = code in evidence.present or code in evidence.absent
        if strength >= EXPECTED_FROM and not asked and can_be_there(finding, assembled.facts):
            found.append(Unlooked(code, strength, finding.check, finding.minutes))
    return tuple(sorted(found, key=lambda f: (-f.strength, f.minutes, WAYS.index(f.way), f.code)))


def turns(advice: Advice, ruleset: Ruleset) -> tuple[Turn, ...]:
    """Return every answer that alone would change the first cause or the set of actions, likeliest first.

    Exact: the beliefs after each answer come from the batch that weighs the checks.
    """
    found = [
        _turn(advice.now, step, reply, ruleset)
        for step in advice.steps
        for reply in step.replies
        if not same_deed(reply.then, advice.now, ruleset)
    ]
    return tuple(sorted(found, key=lambda turn: (-turn.chance, turn.kind, turn.code, turn.answer)))


def _turn(now: Decision, step: Step, reply: Reply, ruleset: Ruleset) -> Turn:
    before, after = now.actions(ruleset), reply.then.actions(ruleset)
    return Turn(
        kind=step.kind,
        code=step.code,
        answer=reply.code,
        chance=reply.chance,
        first_before=now.first,
        first_after=reply.then.first,
        added=tuple(sorted(after - before)),
        dropped=tuple(sorted(before - after)),
        way=step.way,
        minutes=step.minutes,
    )


def look_alikes(assembled: Assembled, beliefs: Posterior) -> tuple[LookAlike, ...]:
    """Return the first cause beside its nearest rivals.

    Rivals are the next causes in order, at least 0.02 probable, that share a seen finding with the first
    one; when nothing was seen, or the two share nothing, they are not taken for one another.
    """
    network = assembled.network
    ranked = sorted(beliefs.marginals, key=lambda code: (-beliefs.marginals[code], code))
    seen = [network.finding_index[code] for code in assembled.evidence.present]
    first = network.cause_index[ranked[0]]
    shared = network.strength[:, seen][:, network.strength[first, seen] > 0].sum(axis=1) > 0
    rivals = [
        code
        for code in ranked[1:]
        if beliefs.marginals[code] >= RIVAL_FROM and shared[network.cause_index[code]]
    ]
    return tuple(
        LookAlike(ranked[0], rival, _separators(assembled, ranked[0], rival)) for rival in rivals[:RIVALS]
    )


def _separators(assembled: Assembled, first: str, rival: str) -> tuple[Separator, ...]:
    network, ruleset = assembled.network, assembled.ruleset
    one, other = (network.log_miss[network.cause_index[code]] for code in (first, rival))
    found = []
    for at, code in enumerate(network.findings):
        finding = ruleset.findings[code]
        not_one, not_other = (float(network.log_leak_miss[at] + miss[at]) for miss in (one, other))
        if_not = (not_one - not_other) / math.log(2)
        if_seen = (math.log(-math.expm1(not_one)) - math.log(-math.expm1(not_other))) / math.log(2)
        if max(abs(if_seen), abs(if_not)) >= TELLING_BITS and can_be_there(finding, assembled.facts):
            apart = (math.exp(not_other) - math.exp(not_one)) * (if_seen - if_not)
            state = _state(assembled, code)
            found.append(Separator(code, if_seen, if_not, apart, state, finding.check, finding.minutes))
    return tuple(sorted(found, key=_most_telling)[:SEPARATORS])


def _most_telling(separator: Separator) -> tuple[bool, float, str]:
    """What is still to be looked at first; then by what a minute of looking tells."""
    return (
        separator.state != "not-looked",
        -per_minute(separator.divergence, separator.minutes),
        separator.code,
    )


def _state(assembled: Assembled, code: str) -> Seen:
    if code in assembled.evidence.present:
        return "seen"
    return "not-seen" if code in assembled.evidence.absent else "not-looked"
