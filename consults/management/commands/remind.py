"""Reminds growers whose look is due; for a schedule of the machine where no broker keeps one."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import ngettext

from consults.looks.reminding import looks_remind


class Command(BaseCommand):
    help = (
        "Write the reminders that are due now: the day before a look and on the day, from the hour set in the"
        " shop's settings on. Run it every hour or more often; nobody is reminded twice."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        count = looks_remind()
        self.stdout.write(
            ngettext("%(count)s reminder written.", "%(count)s reminders written.", count) % {"count": count}
        )
