"""Brings a backup back."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from reports.keeping.folders import BackupError
from reports.keeping.restoring import backup_check, backup_restore


class Command(BaseCommand):
    help = (
        "Bring a backup back into this site's database, of either kind, and its folder, after checking all of"
        " it. Stop the site first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="the folder of the backup")
        parser.add_argument("--replace", action="store_true", help="in place of everything that is there now")
        parser.add_argument("--check", action="store_true", help="only check the backup; change nothing")

    def handle(self, *args: Any, folder: Path, replace: bool, check: bool, **options: Any) -> None:
        try:
            if check:
                manifest = backup_check(folder)
                self.stdout.write(_("The backup of %(day)s is whole.") % {"day": manifest["made_at"]})
                return
            back = backup_restore(folder, replace=replace)
        except (BackupError, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            _("Back as of %(day)s: %(rows)d rows, %(files)d files. Everybody signs in again.")
            % {"day": back.made_at, "rows": back.rows, "files": back.files}
        )
        for name in back.missing:
            self.stderr.write(_("Was missing when the backup was made: %(name)s") % {"name": name})
