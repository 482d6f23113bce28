"""Hands out everything that is held about one grower."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from reports.keeping.exporting import export_grower
from reports.keeping.finding import GrowerNotFoundError, grower_by


class Command(BaseCommand):
    help = "Write everything held about one grower into a ZIP file: records, photos, issued plans, a README."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("grower", metavar="PK_OR_EMAIL", help="the grower's number, or email address")
        parser.add_argument("--out", required=True, type=Path, metavar="FILE.zip")

    def handle(self, *args: Any, grower: str, out: Path, **options: Any) -> None:
        try:
            found = grower_by(grower)
        except GrowerNotFoundError as error:
            raise CommandError(str(error)) from error
        try:
            # Never over another file, and for nobody else to read.
            handle = os.open(out, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError as error:
            raise CommandError(f"{out}: {error.strerror}") from error
        try:
            with os.fdopen(handle, "wb") as file:
                done = export_grower(grower=found, out=file)
        except BaseException:
            out.unlink(missing_ok=True)
            raise
        self.stdout.write(
            _("%(out)s: %(rows)d records, %(files)d files.")
            % {"out": out, "rows": sum(done.records.values()), "files": done.files}
        )
        for path in done.missing:
            self.stderr.write(_("Not there any more: %(path)s") % {"path": path})
