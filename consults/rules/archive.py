"""The cases of a chunk, read so that the number of queries does not hang on how many there are."""

import logging
from collections.abc import Iterator
from pathlib import Path

from django.db.models import Prefetch, QuerySet
from pydantic import ValidationError

import consults.ruleset
from consults.cases.casefile import CaseFile
from consults.cases.rows import casefile_from_rows
from consults.models import Case
from consults.models.rules import ReplayChunk
from consults.rules.replaying import Archived
from garden.models import Reading

log = logging.getLogger("desk.rules")
_FOLDERS = ("cases", "reference_cases")


def bundled_files() -> list[Path]:
    """The case files that come with the program, by name."""
    root = Path(consults.ruleset.__file__).parent
    return sorted(path for name in _FOLDERS for path in (root / name).glob("*.json"))


def archived_cases(chunk: ReplayChunk) -> Iterator[Archived]:
    """The cases of a chunk, one after the other. Nine queries for a chunk of rows, none for the files."""
    if chunk.first is None:
        yield from map(_from_file, bundled_files())
        return
    rows = _whole_cases().filter(pk__gte=chunk.first, pk__lte=chunk.last)
    for case in rows.order_by("pk"):
        yield _from_row(case)


def _whole_cases() -> QuerySet[Case]:
    """Cases with all that makes a case file, and no notes."""
    rows = Case.objects.select_related("grower", "planting__space__garden").prefetch_related(
        "findings",
        "practices",
        Prefetch("readings", Reading.objects.only("pk", "quantity", "value", "taken_at")),
        "planting__space__lamps",
        "planting__space__garden__waters",
        "planting__space__garden__feeds",
    )
    return rows.defer("notes", "grower__notes")


def _from_row(case: Case) -> Archived:
    confirmed = (case.confirmed_cause,) if case.confirmed_cause else ()
    try:
        return Archived(case.pk, "", casefile_from_rows(case), confirmed)
    except ValidationError:
        log.warning("Case %s is no case file; the replay leaves it out", case.pk)
        return Archived(case.pk, "", None, confirmed)


def _from_file(path: Path) -> Archived:
    try:
        read = CaseFile.model_validate_json(path.read_bytes())
    except (OSError, ValidationError):
        log.warning("The case file %s cannot be read; the replay leaves it out", path.name)
        return Archived(None, path.name, None)
    return Archived(None, path.name, read, read.expected.causes if read.expected else ())
