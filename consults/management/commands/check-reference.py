"""Validates every data file and prints counts."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import load_bundled
from garden.reference.loader import ReferenceDataError, check_all


class Command(BaseCommand):
    help = "Validates every data file of crops, readings and rules, and prints how many entries each holds."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            counts = check_all()
            ruleset = load_bundled()
        except (ReferenceDataError, RulesetError) as error:
            self.stderr.write(str(error))
            sys.exit(2)
        for kind in ("causes", "findings", "practices", "conditions", "cautions"):
            counts[kind] = len(getattr(ruleset, kind))
        counts["sources of the rules"] = len(ruleset.sources)
        for name, count in counts.items():
            self.stdout.write(f"{count:6d} {name}")
        self.stdout.write(f"rules {ruleset.version}")
