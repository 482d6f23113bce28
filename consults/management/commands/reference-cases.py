"""Ranks the reference cases and tells how often the expected cause comes first, by half."""

import json
import sys
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

import consults.ruleset
from consults.cases.casefile import CaseFile, CaseFileError, read_case_file
from consults.cases.ranking import rank_case
from consults.ruleset.halves import HALVES, SHOWN, Judged, Score, half_of, score
from consults.ruleset.loader import Ruleset, load_bundled
from garden.reference.loader import load_reference
from garden.reference.schema import Reference

FOLDER = Path(consults.ruleset.__file__).parent / "reference_cases"


class Command(BaseCommand):
    help = (
        "Ranks every reference case and prints how often an expected cause comes first (top-1), among the "
        "first three (top-3), and, of cases with two or more expected causes, which share of them is among "
        "the first three. Rules may be tuned on the seen half only: details of the unseen half are told "
        "when --half unseen asks for them, and in --json. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="as one JSON object")
        parser.add_argument(
            "--half", choices=[*HALVES, "both"], default="both",
            help="rank only the cases whose id (file name) has an even SHA-256 (seen) or an odd one (unseen)",
        )  # fmt: skip
        parser.add_argument(
            "--folder", type=Path, default=FOLDER, metavar="DIR", help="take the cases in this folder instead"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        halves = HALVES if options["half"] == "both" else (options["half"],)
        paths = [path for path in sorted(options["folder"].glob("*.json")) if half_of(path.stem) in halves]
        judged, failed = self._judge(paths)
        if options["json"]:
            self.stdout.write(json.dumps(as_json(judged), ensure_ascii=False))
        else:
            self.stdout.write(as_text(judged, detail="unseen" if options["half"] == "unseen" else "seen"))
        if failed:
            sys.exit(2)

    def _judge(self, paths: list[Path]) -> tuple[list[Judged], bool]:
        """Rank every case that expects something; a file that cannot be used is told and left out."""
        ruleset, reference = load_bundled(), load_reference()
        judged, failed = [], False
        for path in paths:
            try:
                case = read_case_file(path, reference, ruleset)
            except CaseFileError as error:
                failed = True
                for problem in error.problems:
                    self.stderr.write(f"{path.name}: {problem.field}: {problem.message}")
                continue
            if case.expected is not None and case.expected.causes:
                judged.append(judge(path.stem, case, ruleset, reference))
        return judged, failed


def judge(case_id: str, case: CaseFile, ruleset: Ruleset, reference: Reference) -> Judged:
    """Rank one case. Expected causes known by an alias count under their present code."""
    ranking = rank_case(case, ruleset, reference)
    wanted = case.expected.causes if case.expected else ()
    return Judged(
        id=case_id,
        expected=tuple(ruleset.cause_code(code) or code for code in wanted),
        ranked=tuple((cause.code, cause.probability) for cause in ranking.causes),
    )


def as_json(judged: list[Judged]) -> dict[str, Any]:
    """Scores of both halves and every failed case with the first five causes it was given."""
    return {
        "halves": {half: asdict(score(case for case in judged if case.half == half)) for half in HALVES},
        "failures": [
            {
                "id": case.id,
                "half": case.half,
                "expected": list(case.expected),
                "ranked": [{"code": code, "probability": chance} for code, chance in case.ranked[:SHOWN]],
            }
            for case in judged
            if case.failed
        ],
    }


def as_text(judged: list[Judged], detail: str) -> str:
    """The same in words; failures one by one in the half `detail`, in the other only their number."""
    if not judged:
        return "There is no reference case to rank."
    lines = []
    for half in HALVES:
        cases = [case for case in judged if case.half == half]
        failures = [case for case in cases if case.failed]
        lines += [f"{half:7} {_score(score(cases))}; {len(failures)} not as expected"]
        if half != detail:
            continue
        for case in failures:
            found = ", ".join(f"{code} {chance:.3f}" for code, chance in case.ranked[:SHOWN])
            lines.append(f"  {case.id}: expected {' and '.join(case.expected)}; ranked {found}")
    return "\n".join(lines)


def _score(found: Score) -> str:
    def share(value: float | None) -> str:
        return "–" if value is None else f"{value:.3f}"

    return (
        f"{found.n:4d} cases  top-1 {share(found.top1)}  top-3 {share(found.top3)}  "
        f"two causes found {share(found.two_cause_recall)}"
    )
