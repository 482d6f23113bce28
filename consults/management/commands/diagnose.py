"""Ranks the causes of the cases in case files."""

import json
import sys
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from consults.cases.casefile import CaseFile, CaseFileError, read_case_file
from consults.cases.facts import gather
from consults.cases.ranking import Ranking, rank_case, ranking_json
from consults.cases.sentences import Speaker
from consults.rules.selectors import ruleset_current
from consults.ruleset.loader import Ruleset, load_bundled
from consults.ruleset.words import propose
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording


def _at_least_one(typed: str) -> int:
    if not typed.isdecimal() or int(typed) < 1:
        raise ArgumentTypeError(f"{typed!r} is not a whole number of 1 or more.")
    return int(typed)


class Command(BaseCommand):
    help = "Ranks the likely causes of each case file with reasons. Needs no database."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", metavar="FILE", help="case file (JSON)")
        parser.add_argument("--json", action="store_true", help="one JSON object a line for each file")
        parser.add_argument(
            "--top", type=_at_least_one, default=None, metavar="N", help="show only the N likeliest causes"
        )
        parser.add_argument(
            "--read-story",
            action="store_true",
            help="take the findings that the story's own words suggest as seen, or as not there after a “no”",
        )
        parser.add_argument(
            "--ruleset", choices=["bundled", "published"], default="bundled",
            help="the rules that came with the program, or those a manager published (needs the database)",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        ruleset = ruleset_current() if options["ruleset"] == "published" else load_bundled()
        reference, failed = load_reference(), False
        for name in options["files"]:
            try:
                case = read_case_file(Path(name), reference, ruleset)
                if options["read_story"]:
                    case = with_story(case, ruleset)
                ranking = rank_case(case, ruleset, reference)
            except CaseFileError as error:
                failed = True
                self._report_error(name, error, as_json=options["json"])
                continue
            if options["json"]:
                self.stdout.write(_line({"file": name, **ranking_json(ranking, ruleset, top=options["top"])}))
            else:
                self.stdout.write(f"{name}\n" + describe(case, ranking, ruleset, options["top"] or 3))
        if failed:
            sys.exit(2)

    def _report_error(self, name: str, error: CaseFileError, *, as_json: bool) -> None:
        if as_json:
            first = error.problems[0]
            self.stdout.write(
                _line({"file": name, "error": {"field": first.field, "message": first.message}})
            )
        for problem in error.problems:
            self.stderr.write(f"{name}: {problem.field}: {problem.message}")


def with_story(case: CaseFile, ruleset: Ruleset) -> CaseFile:
    """The case with the findings its story suggests, except those already looked at."""
    known = {*case.present, *case.absent}
    proposals = [p for p in propose(case.story, ruleset.findings) if p.code not in known]
    return case.model_copy(
        update={
            "present": (*case.present, *(p.code for p in proposals if p.present)),
            "absent": (*case.absent, *(p.code for p in proposals if not p.present)),
        }
    )


def _line(content: dict[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False)


def describe(case: CaseFile, ranking: Ranking, ruleset: Ruleset, top: int) -> str:
    """The ranking in plain words: causes with their strongest reason, and the next check."""
    facts = gather(case, load_reference())
    speaker = Speaker(ruleset, facts, ranking, Wording(case.grower.units), "en")
    lines = []
    for place, ranked in enumerate(ranking.causes[:top], start=1):
        said = speaker.cause(ranked)
        reason = said.supports[0].sentence if said.supports else "nothing seen speaks for it"
        lines.append(
            f"  {place}. {said.name}: {said.probability:.3f} ({said.word}, {said.chance}); for: {reason}"
        )
    if not ranking.enough:
        lines.append("  Not enough to tell: make the next check before acting.")
    if ranking.checks:
        finding = ruleset.findings[ranking.checks[0].code]
        lines.append(
            f"  Look next: {text(finding.plain)} ({finding.minutes:g} min). {text(finding.definition)}"
        )
    return "\n".join(lines)
