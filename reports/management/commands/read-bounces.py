"""Reads mails that came back to the sending address."""

import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from reports.messages.bounces import Recorded, bounces_record
from reports.messages.delivery_reports import MOST_BYTES


class Command(BaseCommand):
    help = (
        "Record delivery reports: marks the messages that came back and the addresses that do not work."
        " Reads raw mails: files, Maildir folders, or - for one mail on standard input. Files stay as they"
        " are; reading them twice changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sources", nargs="+", metavar="FILE|MAILDIR|-")

    def handle(self, *args: Any, **options: Any) -> None:
        done = Recorded()
        for source in options["sources"]:
            for raw in self._mails(source):
                done += bounces_record(raw)
        words = _("came back: %(bounced)d, noted: %(noted)d, known: %(known)d, not ours: %(others)d")
        self.stdout.write(
            words % {"bounced": done.bounced, "noted": done.noted, "known": done.known, "others": done.others}
        )

    def _mails(self, source: str) -> Iterator[bytes]:
        """A mail longer than any report is cut here and then counts as none."""
        if source == "-":
            yield sys.stdin.buffer.read(MOST_BYTES + 1)
            return
        path = Path(source)
        files = sorted(_maildir(path)) if path.is_dir() else [path]
        for file in files:
            try:
                with file.open("rb") as opened:
                    yield opened.read(MOST_BYTES + 1)
            except OSError as error:
                if not path.is_dir():
                    raise CommandError(
                        _("%(file)s cannot be read: %(why)s") % {"file": file, "why": error.strerror}
                    ) from error
                self.stderr.write(f"{file}: {error.strerror}")  # others may be readable


def _maildir(folder: Path) -> Iterator[Path]:
    """The mails of a Maildir, new and seen; of another folder, its files."""
    inside = [folder / name for name in ("new", "cur") if (folder / name).is_dir()] or [folder]
    for part in inside:
        yield from (path for path in part.iterdir() if path.is_file() and not path.name.startswith("."))
