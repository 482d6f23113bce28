"""The interview: one question at a time until no further one would change what to do.

A state machine without memory of its own: the state is the case file and what could not be answered. Pure:
no Django, no database.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

from consults.cases.casefile import CaseFile
from consults.cases.checks import NOT_SEEN, OPEN_BITS, SEEN, Advice, Step, advise
from consults.cases.decision import Decision
from consults.cases.facts import gather
from consults.cases.meters import DENIED, REPORTED
from consults.cases.ranking import can_be_there, rank_case
from consults.ruleset.conditions import ONSET
from consults.ruleset.loader import Ruleset
from garden.reference.schema import Reference

Why = Literal["settled", "nothing-left", "too-long"]
WORTH_BITS = 0.02  # a question that settles less is not asked; judgement
MOST_QUESTIONS = 60  # of a simulated interview


@dataclass(frozen=True)
class Question:
    """The next thing to look at, measure or ask, with why it comes now."""

    step: Step
    number: int  # from 1, answers already given counted


@dataclass(frozen=True)
class Done:
    """Nothing more to ask: no question is expected to change what is done, or none is left.

    A simulated interview also ends, as too-long, after `MOST_QUESTIONS`.
    """

    reason: Why
    decision: Decision


@dataclass(frozen=True)
class State:
    """The case as far as it is known, and (kind, code) of questions that got no answer."""

    case: CaseFile
    unanswered: frozenset[tuple[str, str]] = frozenset()

    @property
    def known(self) -> int:
        """How many answers have been given, those without an answer among them."""
        case = self.case
        told = len(case.present) + len(case.absent) + len(case.readings) + len(case.practices)
        return told + (case.onset_days is not None) + len(self.unanswered)


def next_question(
    case: CaseFile, ruleset: Ruleset, reference: Reference, unanswered: Collection[tuple[str, str]] = ()
) -> Question | Done:
    """Return the next question of a case, or that asking may stop.

    Questions are findings, readings and habits; laboratory tests are left out, for their answer comes days
    later. Asked first are those whose answer has a chance of 1 in 10 or more to change the first cause or
    the set of actions, then those that settle a quarter bit or more; among each, those that protect other
    plants first, then by bits per minute (`checks.advise`). When there is none, asking stops: see
    `Advice.settled`. Raises as `rank_case` does.
    """
    state = State(case, frozenset(unanswered))
    asked = advise(case, ruleset, reference, unanswered=state.unanswered)
    steps = tuple(step for step in asked.steps if step.way != "laboratory" and step.bits >= WORTH_BITS)
    if not steps:
        return Done("nothing-left", asked.now)
    if Advice(asked.now, steps).settled:
        return Done("settled", asked.now)
    first = next((step for step in steps if step.telling), None)
    return Question(first or next(s for s in steps if s.bits >= OPEN_BITS), state.known + 1)


def answer(state: State, step: Step, value: str | float | None) -> State:
    """Return the state after an answer to `step`.

    A finding takes "seen" or "not-seen", a habit "reported" or "not-reported", a reading its number in the
    stored unit. None: it could not be answered, and is not asked again. Raises `ValueError` for a value
    that the kind of question does not take.
    """
    case = state.case
    if value is None or (step.kind == "practice" and value == DENIED):
        return replace(state, unanswered=state.unanswered | {(step.kind, step.code)})
    if step.kind == "finding" and value in (SEEN, NOT_SEEN):
        field = "present" if value == SEEN else "absent"
        return replace(state, case=case.model_copy(update={field: (*getattr(case, field), step.code)}))
    if step.kind == "practice" and value == REPORTED:
        return replace(state, case=case.model_copy(update={"practices": (*case.practices, step.code)}))
    if step.kind == "reading" and not isinstance(value, str):
        if step.code == ONSET:
            return replace(state, case=case.model_copy(update={"onset_days": round(value)}))
        readings = {**case.readings, step.code: float(value)}
        return replace(state, case=case.model_copy(update={"readings": readings}))
    raise ValueError(f"{value!r} is no answer to a question about a {step.kind}.")


@dataclass(frozen=True)
class Interview:
    """A simulated interview: the questions asked, why it ended, and how it compares with asking everything.

    `checklist_first`: the first cause when the whole checklist is answered from the same case.
    """

    questions: tuple[Step, ...]
    done: Done
    checklist_first: str

    @property
    def first(self) -> str:
        """The first cause at the end."""
        return self.done.decision.first

    @property
    def agrees(self) -> bool:
        """Whether it came to the same first cause as the full checklist."""
        return self.first == self.checklist_first


def simulate(case: CaseFile, ruleset: Ruleset, reference: Reference) -> Interview:
    """Interview a case whose answers are known.

    Known at the start: the plants and their garden, and the first finding seen, which stands for the
    complaint the grower comes with. Findings listed as present are there and **all others are not**, also
    those the case does not mention; a habit not listed is denied; a reading not in the case has no meter.
    """
    state = State(case.model_copy(update={
        "present": case.present[:1], "absent": (), "readings": {}, "practices": (), "onset_days": None,
    }))  # fmt: skip
    asked: list[Step] = []
    following = next_question(state.case, ruleset, reference)
    while isinstance(following, Question) and len(asked) < MOST_QUESTIONS:
        asked.append(following.step)
        state = answer(state, following.step, _truth(case, following.step))
        following = next_question(state.case, ruleset, reference, state.unanswered)
    if isinstance(following, Question):
        following = Done("too-long", advise(state.case, ruleset, reference).now)
    whole = rank_case(full_checklist(case, ruleset, reference), ruleset, reference)
    return Interview(tuple(asked), following, whole.causes[0].code)


def full_checklist(case: CaseFile, ruleset: Ruleset, reference: Reference) -> CaseFile:
    """The case with every finding these plants can have answered: what is not present is not there."""
    facts = gather(case, reference)
    there = (code for code, finding in ruleset.findings.items() if can_be_there(finding, facts))
    return case.model_copy(update={"absent": tuple(code for code in there if code not in case.present)})


def _truth(case: CaseFile, step: Step) -> str | float | None:
    if step.kind == "finding":
        return SEEN if step.code in case.present else NOT_SEEN
    if step.kind == "practice":
        return REPORTED if step.code in case.practices else DENIED
    if step.code == ONSET:
        return case.onset_days
    return case.readings.get(step.code)
