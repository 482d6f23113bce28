"""Makes the documents and sends the messages that wait."""

import os
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils.translation import gettext as _

from reports.messages.delivery import Drained
from reports.messages.work import work_once

_LOOK_EVERY_S = 30.0


class Command(BaseCommand):
    help = (
        "Make the documents and send the messages that wait and are due; without --once, go on until stopped."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="end as soon as nothing is due any more")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            while True:
                self._report(*self._work(), always=options["once"])
                if options["once"]:
                    return
                close_old_connections()
                time.sleep(_LOOK_EVERY_S)
        except KeyboardInterrupt:
            self.stderr.write(_("Stopped. What was not sent stays in the outbox."))

    def _work(self) -> tuple[int, Drained]:
        made, sent = 0, Drained()
        while any(one := work_once(worker=f"work-{os.getpid()}")):
            made, sent = made + one[0], sent + one[1]
        return made, sent

    def _report(self, made: int, sent: Drained, *, always: bool) -> None:
        if made or sent.total or always:
            words = _(
                "documents: %(made)d, sent: %(sent)d, to be tried again: %(retried)d, given up: %(dead)d,"
                " withheld: %(withheld)d"
            )
            numbers = {"sent": sent.sent, "retried": sent.retried, "dead": sent.dead}
            self.stdout.write(words % {"made": made, "withheld": sent.withheld, **numbers})
            self.stdout.flush()
