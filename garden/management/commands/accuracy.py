"""Holds the science against published values."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from garden.bench.accuracy import (
    REPORT_FILE,
    Row,
    counted_by_topic,
    counts_by_status,
    failures,
    report,
    rows_read,
    run_checks,
    short,
)
from garden.reference.files import ReferenceDataError


class Command(BaseCommand):
    help = "Prints each published check value beside ours; succeeds only when all are within tolerance."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print the rows as JSON")
        parser.add_argument("--write", action="store_true", help=f"write {REPORT_FILE.name}")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            rows = run_checks()
        except ReferenceDataError as error:
            raise CommandError(str(error), returncode=2) from error
        if options["write"]:
            REPORT_FILE.write_text(report(rows), encoding="utf-8")
        if options["json"]:
            self.stdout.write(json.dumps([row.as_json() for row in rows], ensure_ascii=False, indent=1))
        else:
            self.stdout.write(table(rows))
        missed = failures(rows)
        if missed:
            names = ", ".join(row.id for row in missed)
            raise CommandError(f"{len(missed)} of {len(rows)} rows are outside their tolerance: {names}.")


def table(rows: list[Row]) -> str:
    """Return the rows in columns for a terminal, followed by the counts."""
    lines = [f"{'check':38} {'published':>12} {'ours':>12} {'tolerance':>11}  {'unit':14} {'':7} where"]
    for row in rows:
        numbers = f"{row.expected:>12.6g} {short(row.got):>12} {row.tolerance:>11.4g}"
        verdict = "ok" if row.ok else "OUTSIDE"
        lines.append(f"{row.id:38} {numbers}  {row.unit:14} {verdict:7} {row.status}, {row.source}")
    topics = counted_by_topic(rows)
    statuses = ", ".join(f"{count} {status}" for status, count in counts_by_status(rows).items())
    counted = f"{sum(topics.values())} rows counted over {len(topics)} topics"
    lines += ["", f"{counted}, {rows_read(rows)} read at the source or in a copy; all: {statuses}."]
    return "\n".join(lines)
