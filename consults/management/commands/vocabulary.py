"""Prints the codes a case file may use."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from consults.diagnosis import NONE_OF_THESE
from consults.ruleset.loader import Ruleset, load_bundled
from garden.reference.loader import load_reference
from garden.reference.schema import Reference, text


class Command(BaseCommand):
    help = "Prints every code a case file may use: causes, findings, practices, readings, crops and so on."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="as one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        content = vocabulary(load_bundled(), load_reference())
        if options["json"]:
            self.stdout.write(json.dumps(content, ensure_ascii=False))
            return
        self.stdout.write(f"rules {content['ruleset']}")
        for kind, entries in content.items():
            if isinstance(entries, list):
                self.stdout.write(f"\n{kind} ({len(entries)})")
                for entry in entries:
                    self.stdout.write(f"  {entry['code']:<38} {entry['name']}")


def vocabulary(ruleset: Ruleset, reference: Reference) -> dict[str, Any]:
    """All codes with their English names."""

    def named(entries: Any) -> list[dict[str, Any]]:
        return [{"code": entry.code, "name": text(entry.name)} for entry in entries]

    causes = [
        {
            "code": c.code, "name": text(c.name), "group": c.group,
            "definition": text(c.definition), "aliases": list(c.aliases),
        }
        for c in ruleset.causes.values()
    ]  # fmt: skip
    causes.append(
        {
            "code": NONE_OF_THESE, "name": "None of these", "group": "other",
            "definition": "No listed cause is true.", "aliases": [],
        }
    )  # fmt: skip
    return {
        "ruleset": ruleset.version,
        "causes": causes,
        "findings": [
            {
                "code": f.code, "name": text(f.name), "part": f.part, "leaf_age": f.leaf_age,
                "distribution": text(f.distribution), "definition": text(f.definition),
                "synonyms": list(f.synonyms),
            }
            for f in ruleset.findings.values()
        ],
        "practices": [
            {"code": p.code, "name": text(p.name), "definition": text(p.definition)}
            for p in ruleset.practices.values()
        ],
        "readings": [
            {"code": r.code, "name": text(r.name), "unit": r.unit, "min": r.min, "max": r.max}
            for r in reference.readings.values()
            if not r.derived
        ],
        "crops": named(crop for crop in reference.crops.values() if not crop.is_profile),
        "stages": named(reference.stages.values()),
        "systems": named(reference.systems.values()),
        "media": named(reference.media.values()),
        "lamps": named(reference.lamps.values()),
        "profiles": named(reference.profiles.values()),
    }  # fmt: skip
