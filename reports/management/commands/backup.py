"""Makes a backup."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from reports.keeping.backing import HOLDS, backup_make
from reports.keeping.folders import BackupError


class Command(BaseCommand):
    help = (
        "Copy database and files, as they are at one moment, into a new folder. The site may go on meanwhile."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="a folder that is new or empty")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        try:
            made = backup_make(folder)
        except (BackupError, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            _("%(folder)s: %(rows)d rows, %(files)d files, %(size).1f MB.")
            % {"folder": folder, "rows": made.rows, "files": made.files, "size": made.size / 1e6}
        )
        self.stdout.write(str(HOLDS))
        for name in made.missing:
            self.stderr.write(_("Not there any more, so not in the backup: %(name)s") % {"name": name})
