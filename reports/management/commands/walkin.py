"""The main job once, on the walk-in case that comes with the program."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

import consults.ruleset

CASE = Path(consults.ruleset.__file__).parent / "cases" / "walk-in.json"


class Command(BaseCommand):
    help = (
        "The whole job on the bundled walk-in case. Repeated, it shows the same plan and sends nothing twice."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("consult", str(CASE), pdf=str(Path(settings.DATA_DIR) / "walk-in-plan.pdf"), email=True)
