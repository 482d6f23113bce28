"""Erases who a grower was."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from garden.models import Grower
from reports.keeping.erasing import ErasureRefusedError, Forecast, forecast, grower_erase


class Command(BaseCommand):
    help = "Erase who a grower was, for good; what happened to the plants stays. Without --yes, only tell."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("grower", type=int, metavar="PK", help="the grower's number")
        parser.add_argument("--yes", action="store_true", help="do it; this cannot be undone")

    def handle(self, *args: Any, grower: int, yes: bool, **options: Any) -> None:
        found = Grower.objects.filter(pk=grower).first()
        if found is None:
            raise CommandError(_("There is no grower %(pk)d.") % {"pk": grower})
        if not yes:
            self._foretell(found, forecast(found))
            raise CommandError(_("Nothing was erased. To erase, run this again with --yes."))
        try:
            record = grower_erase(grower=found, by=None)
        except ErasureRefusedError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(_("Grower %(pk)d is erased.") % {"pk": grower})
        for name, count in record.counts.items():
            self.stdout.write(f"  {name}: {count}")
        if record.files:
            raise CommandError(
                _("%(n)d files could not be removed; the record keeps their names. Run this again.")
                % {"n": len(record.files)}
            )

    def _foretell(self, grower: Grower, what: Forecast) -> None:
        self.stdout.write(_("Erasing %(grower)s:") % {"grower": grower})
        for line in what.lines:
            self.stdout.write(f"  {line.rows} {line.name} (+ {line.history})")
            if line.goes:
                self.stdout.write("    - " + line.goes)
            if line.stays:
                self.stdout.write("    = " + line.stays)
        self.stdout.write(
            _("Files deleted: %(files)d. Mentions among other people's words: %(elsewhere)d.")
            % {"files": what.files, "elsewhere": what.elsewhere}
        )
