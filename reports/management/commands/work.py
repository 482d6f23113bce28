"""Sends what waits in the outbox."""

import os
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils.translation import gettext as _

from reports.messages.delivery import Drained, drain

_LOOK_EVERY_S = 30.0


class Command(BaseCommand):
    help = "Send the messages that wait in the outbox and are due; without --once, go on until stopped."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="end as soon as nothing is due any more")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            while True:
                self._report(self._drain_all(), always=options["once"])
                if options["once"]:
                    return
                close_old_connections()
                time.sleep(_LOOK_EVERY_S)
        except KeyboardInterrupt:
            self.stderr.write(_("Stopped. What was not sent stays in the outbox."))

    def _drain_all(self) -> Drained:
        done = Drained()
        while (one := drain(worker=f"work-{os.getpid()}")).total:
            done += one
        return done

    def _report(self, done: Drained, *, always: bool) -> None:
        if done.total or always:
            self.stdout.write(
                _("sent: %(sent)d, to be tried again: %(retried)d, given up: %(dead)d")
                % {"sent": done.sent, "retried": done.retried, "dead": done.dead}
            )
            self.stdout.flush()
