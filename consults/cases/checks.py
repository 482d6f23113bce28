"""Every check that can still be made in a case, with what its answers would lead to, the best first.

A check is a finding not looked at, a reading not taken, a habit not asked about, or a laboratory test of a
cause. Pure: no Django, no database.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from consults.cases.casefile import CaseFile
from consults.cases.decision import Decision, decide, decisions_after, same_deed
from consults.cases.effort import LABORATORY_MINUTES, WAYS, Way, per_minute
from consults.cases.meters import open_facts
from consults.cases.protect import protecting_checks
from consults.cases.ranking import Assembled, assemble, can_be_there, in_question
from consults.diagnosis.inference import posterior
from consults.diagnosis.outlook import Ahead, Outlook, answers_by_odds, answers_of_test, look_ahead
from consults.ruleset.loader import Ruleset
from garden.reference.schema import Reference

SEEN, NOT_SEEN, POSITIVE, NEGATIVE = "seen", "not-seen", "positive", "negative"
# Judgement: how well a laboratory tells one cause; no two laboratories and no two causes are alike.
SENSITIVITY, SPECIFICITY = 0.9, 0.95
# Judgement: from this chance that its answer changes what to do, and else from this many bits of doubt
# that it settles, a question must still be asked. The second guards against stopping where several answers
# together would change what no single one does.
LEAST_CHANGE = 0.1
OPEN_BITS = 0.25
LABORATORY_FROM = 0.1  # probability from which a test of a cause is worth naming; judgement


@dataclass(frozen=True)
class Reply:
    """One answer: its code, its chance, and what would then be done."""

    code: str
    chance: float
    then: Decision


@dataclass(frozen=True)
class Step:
    """A check with what it costs and settles.

    `bits`: expected fall of doubt about the causes in question. `changes`: chance that its answer changes
    the first cause or the set of actions. `protects`: the contagious cause it would confirm or clear, when
    that is why it stands first.
    """

    kind: str  # finding, reading, practice or laboratory
    code: str
    way: Way
    minutes: float
    bits: float
    changes: float
    replies: tuple[Reply, ...]
    protects: str | None = None

    @property
    def telling(self) -> bool:
        """Whether its answer has a chance of 1 in 10 or more to change what is done."""
        return self.changes >= LEAST_CHANGE

    @property
    def bits_per_minute(self) -> float:
        """What a minute of effort is expected to settle."""
        return per_minute(self.bits, self.minutes)


@dataclass(frozen=True)
class Advice:
    """What to do now, every check that could still be made (best first), and whether any is worth it."""

    now: Decision
    steps: tuple[Step, ...]

    @property
    def settled(self) -> bool:
        """Whether asking may stop: no check has a chance of 1 in 10 to change the first cause or the set of
        actions, and none settles a quarter bit of doubt about the causes in question.
        """
        return not any(step.telling or step.bits >= OPEN_BITS for step in self.steps)


def advise(
    case: CaseFile, ruleset: Ruleset, reference: Reference, *, unanswered: Collection[tuple[str, str]] = ()
) -> Advice:
    """Return the checks of a case by bits per minute, those that protect other plants before all others.

    `unanswered` holds (kind, code) of what was asked and could not be answered, or was denied; it is not
    offered again. Ties go to the easier way of looking (`effort.WAYS`), then by kind and code. Raises as
    `rank_case` does.
    """
    assembled = assemble(case, ruleset, reference)
    network, evidence = assembled.network, assembled.evidence
    about = in_question(network, evidence, posterior(network, evidence))
    ahead = look_ahead(network, evidence)
    now = decide(network, ahead.marginals, ahead.none)
    columns = None if about is None else sorted(network.cause_index[code] for code in about)
    refused = set(unanswered)
    steps = [
        _step(assembled, now, columns, *entry)
        for entry in (*_looks(assembled, ahead), *_facts(assembled, about), *_tests(assembled, ahead))
        if entry[:2] not in refused
    ]
    looked = [step.code for step in steps if step.kind == "finding"]
    protecting = protecting_checks(network, ahead, ruleset, looked)
    order = {code: place for place, code in enumerate(protecting)}
    steps = [replace(s, protects=protecting.get(s.code)) if s.kind == "finding" else s for s in steps]
    return Advice(now, tuple(sorted(steps, key=lambda step: _order(step, order))))


_Entry = tuple[str, str, Way, float, tuple[str, ...], Outlook]


def _order(step: Step, protecting: dict[str, int]) -> tuple[int, float, int, str, str]:
    first = protecting.get(step.code, len(protecting)) if step.kind == "finding" else len(protecting)
    return first, -step.bits_per_minute, WAYS.index(step.way), step.kind, step.code


def _step(
    assembled: Assembled, now: Decision, columns: list[int] | None, kind: str, code: str, way: Way,
    minutes: float, answers: tuple[str, ...], outlook: Outlook,
) -> Step:  # fmt: skip
    replies = tuple(
        Reply(name, float(chance), then)
        for name, chance, then in zip(
            answers, outlook.chances, decisions_after(assembled.network, outlook), strict=True
        )
    )
    changes = sum(r.chance for r in replies if not same_deed(r.then, now, assembled.ruleset))
    return Step(kind, code, way, minutes, outlook.bits(columns), min(1.0, changes), replies)


def _looks(assembled: Assembled, ahead: Ahead) -> Iterator[_Entry]:
    for code, outlook in ahead.findings.items():
        finding = assembled.ruleset.findings[code]
        if can_be_there(finding, assembled.facts):
            yield "finding", code, finding.check, finding.minutes, (SEEN, NOT_SEEN), outlook


def _facts(assembled: Assembled, about: Collection[str] | None) -> Iterator[_Entry]:
    facts = open_facts(assembled.facts, assembled.ruleset, about)
    answers = [
        [(assembled.odds_with(fact.causes, a.states, a.practices), a.share) for a in fact.answers]
        for fact in facts
    ]
    outlooks = answers_by_odds(assembled.network, assembled.evidence, answers)
    for fact, outlook in zip(facts, outlooks, strict=True):
        yield fact.kind, fact.code, fact.way, fact.minutes, tuple(a.code for a in fact.answers), outlook


def _tests(assembled: Assembled, ahead: Ahead) -> Iterator[_Entry]:
    for at, code in enumerate(assembled.network.causes):
        if assembled.ruleset.causes[code].laboratory and ahead.marginals[at] >= LABORATORY_FROM:
            outlook = answers_of_test(assembled.network, assembled.evidence, code, SENSITIVITY, SPECIFICITY)
            yield "laboratory", code, "laboratory", LABORATORY_MINUTES, (POSITIVE, NEGATIVE), outlook
