"""Tells how well growers' own words are read, on sentences written without sight of the matcher's phrases."""

import json
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand

from consults.ruleset.halves import HALVES
from consults.ruleset.loader import load_bundled
from consults.ruleset.phrases import Score, in_half, load_sentences, score


class Command(BaseCommand):
    help = (
        "Reads every sentence of growers in the held-out set and prints, by half, which share of the "
        "findings proposed is right (precision), which share of those meant is proposed (recall), and which "
        "share of the sentences is read without a fault. Phrases may be mended after the seen half only: "
        "its faults are listed, those of the unseen half counted. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="as one JSON object, without the faults")

    def handle(self, *args: Any, **options: Any) -> None:
        sentences, findings = load_sentences(), load_bundled().findings
        scores = {half: score(in_half(sentences, half), findings) for half in HALVES}
        if options["json"]:
            self.stdout.write(
                json.dumps({"halves": {half: _numbers(found) for half, found in scores.items()}})
            )
            return
        for half, found in scores.items():
            self.stdout.write(
                f"{half:7} {found.n:4d} sentences  precision {found.precision:.3f}  "
                f"recall {found.recall:.3f}  without a fault {found.exact:.3f}"
            )
        for fault in scores["seen"].misread:
            missed, wrong = ", ".join(fault.missed) or "–", ", ".join(fault.wrong) or "–"
            self.stdout.write(f"  {fault.id}: {fault.text}\n      missed {missed}; wrong {wrong}")


def _numbers(found: Score) -> dict[str, Any]:
    return {name: value for name, value in asdict(found).items() if name != "misread"}
