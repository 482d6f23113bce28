"""One question at a time: what to ask next, or a whole interview answered from the case itself."""

import json
import statistics
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

import consults.ruleset
from consults.cases.casefile import CaseFile, CaseFileError, read_case_file
from consults.cases.checks import Step
from consults.cases.drawing import draw_cases
from consults.cases.interview import Done, Interview, Question, next_question, simulate
from consults.diagnosis import NONE_OF_THESE
from consults.management.numbers import at_least_one, whole
from consults.ruleset.conditions import ONSET
from consults.ruleset.halves import half_of
from consults.ruleset.loader import Ruleset, load_bundled
from garden.reference.loader import load_reference
from garden.reference.schema import Reference, text

BUNDLED = Path(consults.ruleset.__file__).parent


class Command(BaseCommand):
    help = (
        "Prints the next question of a case file, or that asking may stop. With --simulate it asks until it "
        "stops and takes every answer from the file: findings listed as present are there, ALL OTHERS ARE "
        "NOT, a habit not listed is denied, a reading not listed has no meter; only the plants, the garden "
        "and the first finding listed are known at the start. It then compares its first cause with that of "
        "the full checklist. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="*", metavar="FILE", help="case file (JSON)")
        parser.add_argument("--simulate", action="store_true", help="ask to the end, answers from the file")
        parser.add_argument("--json", action="store_true", help="one JSON object a line for each case")
        parser.add_argument(
            "--bundled",
            action="store_true",
            help="all bundled and reference cases; those of the unseen half are counted, not shown",
        )
        parser.add_argument(
            "--draw", type=at_least_one, metavar="N", help="N cases drawn from the rules themselves"
        )
        parser.add_argument("--seed", type=whole, default=1, metavar="S", help="of --draw (1)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not (options["files"] or options["bundled"] or options["draw"]):
            raise CommandError("Name a case file, or --bundled, or --draw N.", returncode=2)
        ruleset, reference = load_bundled(), load_reference()
        self.failed = False
        self.hidden: set[str] = set()
        interviews = []
        for name, case in self._cases(ruleset, reference, options):
            if options["simulate"] or options["draw"] or options["bundled"]:
                found = simulate(case, ruleset, reference)
                interviews.append((found, case.expected.causes if case.expected else ()))
                told, words = interview_json(name, found), interview_text(name, found, ruleset, reference)
            else:
                following = next_question(case, ruleset, reference)
                told, words = next_json(name, following), next_text(name, following, ruleset, reference)
            if name not in self.hidden:
                self.stdout.write(json.dumps(told, ensure_ascii=False) if options["json"] else words)
        if len(interviews) > 1:
            summary = summarise(interviews)
            self.stdout.write(json.dumps({"summary": summary}) if options["json"] else summary_text(summary))
        if self.failed:
            sys.exit(2)

    def _cases(
        self, ruleset: Ruleset, reference: Reference, options: dict[str, Any]
    ) -> Iterator[tuple[str, CaseFile]]:
        paths = [Path(name) for name in options["files"]]
        if options["bundled"]:
            judged = sorted(BUNDLED.glob("reference_cases/*.json"))
            paths += [*sorted(BUNDLED.glob("cases/*.json")), *judged]
            self.hidden = {path.stem for path in judged if half_of(path.stem) == "unseen"}
        for path in paths:
            try:
                yield path.stem if options["bundled"] else str(path), read_case_file(path, reference, ruleset)
            except CaseFileError as error:
                self.failed = True
                for problem in error.problems:
                    self.stderr.write(f"{path}: {problem.field}: {problem.message}")
        if options["draw"]:
            for number, case in enumerate(
                draw_cases(ruleset, reference, options["draw"], options["seed"]), start=1
            ):
                yield f"drawn-{number}", case


def step_json(step: Step) -> dict[str, Any]:
    """One question as data."""
    return {
        "kind": step.kind, "code": step.code, "way": step.way, "minutes": step.minutes, "bits": step.bits,
        "changes": step.changes, "protects": step.protects,
    }  # fmt: skip


def interview_json(name: str, found: Interview) -> dict[str, Any]:
    """A simulated interview as data."""
    return {
        "case": name,
        "questions": [step_json(step) for step in found.questions],
        "asked": len(found.questions),
        "ended": found.done.reason,
        "first": found.first,
        "checklist_first": found.checklist_first,
        "agrees": found.agrees,
    }


def next_json(name: str, found: Question | Done) -> dict[str, Any]:
    """The next question as data, or why there is none."""
    if isinstance(found, Question):
        return {"case": name, "number": found.number, "question": step_json(found.step)}
    return {"case": name, "ended": found.reason, "first": found.decision.first}


def question_text(step: Step, ruleset: Ruleset, reference: Reference) -> str:
    """What to look at, measure or ask, in words."""
    if step.kind == "finding":
        finding = ruleset.findings[step.code]
        return f"Look: {text(finding.plain)}? ({text(finding.definition)})"
    if step.kind == "practice":
        return f"Ask: {text(ruleset.practices[step.code].name)}?"
    if step.code == ONSET:
        return "Ask: how many days ago was it first noticed?"
    return f"Measure: {text(reference.readings[step.code].name)}"


def cause_name(code: str, ruleset: Ruleset) -> str:
    """A cause in words."""
    return "None of these" if code == NONE_OF_THESE else text(ruleset.causes[code].name)


def next_text(name: str, found: Question | Done, ruleset: Ruleset, reference: Reference) -> str:
    """The next question in words, or why there is none."""
    if isinstance(found, Done):
        return f"{name}\n  Stop asking ({found.reason}). First: {cause_name(found.decision.first, ruleset)}."
    step = found.step
    why = f"; first, because {cause_name(step.protects, ruleset)} would spread" if step.protects else ""
    return (
        f"{name}\n  {found.number}. {question_text(step, ruleset, reference)} "
        f"[{step.minutes:g} min, {step.bits:.2f} bits{why}]"
    )


def interview_text(name: str, found: Interview, ruleset: Ruleset, reference: Reference) -> str:
    """A simulated interview in words."""
    lines = [name]
    lines += [
        f"  {number}. {question_text(step, ruleset, reference)}"
        for number, step in enumerate(found.questions, start=1)
    ]
    verdict = "the same as" if found.agrees else f"not {cause_name(found.checklist_first, ruleset)} as"
    lines.append(
        f"  {len(found.questions)} questions, then {found.done.reason}: "
        f"{cause_name(found.first, ruleset)}, {verdict} with the full checklist"
    )
    return "\n".join(lines)


def summarise(interviews: list[tuple[Interview, tuple[str, ...]]]) -> dict[str, Any]:
    """How many questions it took, and how often the first cause was that of the full checklist.

    `right` and `checklist_right`: how often each put one of the expected causes first, over the cases that
    expect any; None without such a case.
    """
    counts = [len(found.questions) for found, _expected in interviews]
    judged = [(found, expected) for found, expected in interviews if expected]
    right = [found.first in expected for found, expected in judged]
    checklist = [found.checklist_first in expected for found, expected in judged]
    return {
        "cases": len(interviews),
        "median_questions": statistics.median(counts),
        "most_questions": max(counts),
        "agreement": statistics.mean(found.agrees for found, _expected in interviews),
        "right": statistics.mean(right) if judged else None,
        "checklist_right": statistics.mean(checklist) if judged else None,
    }


def summary_text(summary: dict[str, Any]) -> str:
    """The same in words."""
    told = (
        f"{summary['cases']} cases: median {summary['median_questions']:g} questions, at most "
        f"{summary['most_questions']}; same first cause as the full checklist in {summary['agreement']:.0%}"
    )
    if summary["right"] is None:
        return told
    return (
        f"{told}; an expected cause first in {summary['right']:.0%}, with the full checklist in "
        f"{summary['checklist_right']:.0%}"
    )
