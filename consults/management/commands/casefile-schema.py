"""Prints the JSON Schema of the case file."""

import json
from typing import Any

from django.core.management.base import BaseCommand

from consults.cases.casefile import CaseFile


class Command(BaseCommand):
    help = "Prints the JSON Schema of the case file, the one form in which cases come in and go out."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        schema = CaseFile.model_json_schema()
        schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
        self.stdout.write(json.dumps(schema, indent=2))
