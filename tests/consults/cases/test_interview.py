"""One question at a time, until no further one would change what to do."""

from pathlib import Path

import pytest

import consults.ruleset
from consults.cases.casefile import CaseFile, read_case_file
from consults.cases.checks import LEAST_CHANGE, NOT_SEEN, OPEN_BITS, SEEN, advise
from consults.cases.drawing import draw_cases
from consults.cases.facts import gather
from consults.cases.interview import (
    MOST_QUESTIONS,
    Done,
    Question,
    State,
    answer,
    full_checklist,
    next_question,
    simulate,
)
from consults.cases.meters import DENIED, REPORTED
from consults.cases.ranking import can_be_there, rank_case
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile

RULES, REFERENCE = load_bundled(), load_reference()
FOLDER = Path(consults.ruleset.__file__).parent / "cases"
POT = {"crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot"}
COMPLAINT = casefile(planting=POT, present=["interveinal-chlorosis-young"])


def bundled(name: str) -> CaseFile:
    return read_case_file(FOLDER / f"{name}.json", REFERENCE, RULES)


def following(state: State):
    return next_question(state.case, RULES, REFERENCE, state.unanswered)


def test_the_next_question_is_one_thing_that_could_change_what_to_do():
    asked = next_question(COMPLAINT, RULES, REFERENCE)
    assert isinstance(asked, Question)
    assert asked.number == 2
    assert asked.step.telling
    assert asked.step.way != "laboratory"


def test_no_question_comes_twice_whatever_is_answered():
    state, seen = State(COMPLAINT), set()
    for turn in range(8):
        asked = following(state)
        if isinstance(asked, Done):
            break
        assert (asked.step.kind, asked.step.code) not in seen
        seen.add((asked.step.kind, asked.step.code))
        given = None if turn % 3 == 0 or asked.step.kind != "finding" else NOT_SEEN
        state = answer(state, asked.step, given)
    assert len(seen) > 2


def test_when_it_stops_no_single_question_would_likely_change_anything():
    found = simulate(bundled("limp-light-pot"), RULES, REFERENCE)
    assert found.done.reason == "settled"
    state = State(bundled("limp-light-pot").model_copy(update={
        "present": bundled("limp-light-pot").present[:1], "absent": (), "readings": {}, "practices": (),
        "onset_days": None,
    }))  # fmt: skip
    truth = bundled("limp-light-pot")
    for step in found.questions:
        value = {
            "finding": SEEN if step.code in truth.present else NOT_SEEN,
            "practice": REPORTED if step.code in truth.practices else DENIED,
            "reading": truth.readings.get(step.code),
        }[step.kind]
        state = answer(state, step, value)
    left = advise(state.case, RULES, REFERENCE, unanswered=state.unanswered)
    open_ones = [s for s in left.steps if s.way != "laboratory" and s.bits >= 0.02]
    assert all(s.changes < LEAST_CHANGE and s.bits < OPEN_BITS for s in open_ones)
    assert left.now == found.done.decision


def test_answers_are_written_where_they_belong():
    steps = {s.kind: s for s in advise(COMPLAINT, RULES, REFERENCE).steps}
    state = State(COMPLAINT)
    finding, habit = steps["finding"], steps["practice"]
    reading = next(s for s in advise(COMPLAINT, RULES, REFERENCE).steps if s.code == "root_zone_ph")
    assert answer(state, finding, SEEN).case.present == (*COMPLAINT.present, finding.code)
    assert answer(state, finding, NOT_SEEN).case.absent == (finding.code,)
    assert answer(state, habit, REPORTED).case.practices == (habit.code,)
    assert answer(state, habit, DENIED).unanswered == {("practice", habit.code)}
    assert answer(state, reading, 7.2).case.readings == {"root_zone_ph": 7.2}
    assert answer(state, reading, None).unanswered == {("reading", "root_zone_ph")}
    assert answer(state, finding, None).case == COMPLAINT
    for step, wrong in ((finding, REPORTED), (finding, 1.0), (habit, SEEN), (reading, "high")):
        with pytest.raises(ValueError, match="no answer"):
            answer(state, step, wrong)


def test_every_answer_counts_as_one():
    state = State(casefile(planting=POT, present=["stunting"], readings={"air_temp_c": 22}, onset_days=3))
    assert state.known == 3
    step = next(s for s in advise(state.case, RULES, REFERENCE).steps if s.kind == "finding")
    assert answer(state, step, None).known == 4
    assert answer(state, step, SEEN).known == 4


def test_what_a_simulation_does_not_find_in_the_file_is_not_there():
    case = bundled("limp-light-pot")
    whole = full_checklist(case, RULES, REFERENCE)
    facts = gather(case, REFERENCE)
    possible = {code for code, finding in RULES.findings.items() if can_be_there(finding, facts)}
    assert set(whole.present) == set(case.present)
    assert set(whole.absent) == possible - set(case.present)


def test_a_simulation_starts_from_the_first_finding_and_the_garden_only():
    case = bundled("walk-in")
    asked = [(s.kind, s.code) for s in simulate(case, RULES, REFERENCE).questions]
    assert ("finding", case.present[0]) not in asked
    assert len(asked) == len(set(asked)) <= MOST_QUESTIONS


@pytest.mark.parametrize("name", ["limp-light-pot", "daily-watered-pots", "tomato-black-bottoms"])
def test_plain_cases_end_with_their_cause_after_few_questions(name):
    case = bundled(name)
    found = simulate(case, RULES, REFERENCE)
    assert case.expected is not None and found.first in case.expected.causes
    assert len(found.questions) <= 30


def test_an_interview_is_compared_with_the_whole_checklist_answered_from_the_same_case():
    case = bundled("daily-watered-pots")
    found = simulate(case, RULES, REFERENCE)
    whole = rank_case(full_checklist(case, RULES, REFERENCE), RULES, REFERENCE)
    assert found.checklist_first == whole.causes[0].code
    assert found.agrees == (found.first == found.checklist_first)


def test_drawn_cases_are_whole_case_files_and_repeat_with_their_seed():
    first, again, other = (list(draw_cases(RULES, REFERENCE, 4, seed)) for seed in (1, 1, 2))
    assert first == again != other
    for case in first:
        assert case.expected is not None and case.expected.causes and case.present
        facts = gather(case, REFERENCE)
        assert all(can_be_there(RULES.findings[code], facts) for code in (*case.present, *case.absent))
        assert not set(case.present) & set(case.absent)
        CaseFile.model_validate(case.model_dump(mode="json"))
    with pytest.raises(ValueError, match="at least 1"):
        next(draw_cases(RULES, REFERENCE, 0, 1))
