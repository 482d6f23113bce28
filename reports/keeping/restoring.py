"""Bringing a backup back: checked whole before anything is written, written whole or not at all."""

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import DatabaseError, connections, transaction
from django.utils.translation import gettext as _

from consults.models.guards import install_guards, remove_guards
from reports.keeping.backing import migrations_of, named_files
from reports.keeping.folders import (
    FILES,
    BackupError,
    check_file,
    copy_to,
    listed_files,
    read_lines,
    read_manifest,
)
from reports.keeping.tables import (
    columns_of,
    empty_tables,
    filled_tables,
    kept_models,
    set_last_numbers,
    write_rows,
)

_STAGED = ".restoring"


@dataclass(frozen=True)
class Restored:
    """What came back."""

    rows: int
    files: int
    made_at: str
    missing: tuple[str, ...]


def backup_check(folder: Path) -> dict[str, Any]:
    """Read a whole backup; returns its manifest. Raises BackupError when anything is not as it was."""
    manifest = read_manifest(folder)
    for table, told in manifest["tables"].items():
        name = f"tables/{table}.jsonl.gz"
        check_file(folder, name, told)
        if sum(1 for _line in read_lines(folder / name)) != told["rows"]:
            raise BackupError(_("%(file)s in the backup has not all its rows.") % {"file": name})
    check_file(folder, FILES, manifest["files"])
    count = 0
    for entry in listed_files(folder):
        check_file(folder, entry["path"], entry)
        count += 1
    if count != manifest["files"]["count"]:
        raise BackupError(_("%(file)s in the backup has not all its rows.") % {"file": FILES})
    return manifest


def backup_restore(folder: Path, *, using: str = "default", replace: bool = False) -> Restored:
    """Bring a backup back into a database that holds nothing, or with `replace` in place of what it holds.

    A database without tables gets them. Nobody should work on the site meanwhile. Raises BackupError before
    anything is changed when the backup is damaged, of another version, or the database is not empty; when
    writing fails, database and files are as they were.
    """
    manifest = backup_check(folder)
    if "django_migrations" not in connections[using].introspection.table_names():
        call_command("migrate", database=using, verbosity=0, interactive=False)
    _check_fits(manifest, using)
    filled = filled_tables(using)
    if filled and not replace:
        raise BackupError(
            _("The database is not empty (%(tables)s). To put the backup in its place, add --replace.")
            % {"tables": ", ".join(filled[:5])}
        )
    before = _files_now(using)
    with _staged(folder) as staged:
        try:
            with transaction.atomic(using=using):
                rows = _write_tables(folder, manifest, using)
                for part, place in staged:
                    part.replace(place)
        except DatabaseError as error:
            raise BackupError(_("The database refused the backup: %(why)s") % {"why": error}) from error
    ContentType.objects.clear_cache()
    for path in before - {place for _part, place in staged}:
        path.unlink(missing_ok=True)
    return Restored(rows, len(staged), manifest["made_at"], tuple(manifest["missing"]))


def _check_fits(manifest: dict[str, Any], using: str) -> None:
    """Raise BackupError unless tables, columns and migrations are those of this program."""
    tables = {model._meta.db_table: columns_of(model) for model in kept_models()}
    told = {name: table["columns"] for name, table in manifest["tables"].items()}
    if manifest["migrations"] != migrations_of(using) or tables != told:
        raise BackupError(
            _(
                "This backup was made by another version of the program (%(version)s). Restore it with that"
                " version, then bring the program up to date. Not the same: %(where)s."
            )
            % {"version": manifest["program"], "where": _difference(manifest, using, tables, told)}
        )


def _difference(manifest: dict[str, Any], using: str, tables: dict[str, Any], told: dict[str, Any]) -> str:
    """The first few names that differ."""
    here, there = (
        {(app, name) for app, names in found.items() for name in names}
        for found in (migrations_of(using), manifest["migrations"])
    )
    names = [f"{app} {name}" for app, name in sorted(here ^ there)]
    names += sorted(table for table in tables.keys() | told.keys() if tables.get(table) != told.get(table))
    return ", ".join(names[:6])


def _write_tables(folder: Path, manifest: dict[str, Any], using: str) -> int:
    remove_guards(using)
    empty_tables(using)
    rows = 0
    for model in kept_models():
        table = model._meta.db_table
        written = write_rows(model, read_lines(folder / "tables" / f"{table}.jsonl.gz"), using)
        if written != manifest["tables"][table]["rows"]:
            raise BackupError(_("Not all rows of %(table)s could be written.") % {"table": table})
        rows += written
    set_last_numbers({name: told["last_number"] or 0 for name, told in manifest["tables"].items()}, using)
    # Every key leads to a row: looked at now, because PostgreSQL wants it settled before the triggers.
    connections[using].check_constraints()
    install_guards(using)
    return rows


# --- files ----------------------------------------------------------------------------------------
def _place(path: str) -> Path:
    """Where a file of the backup belongs."""
    root, _slash, name = path.partition("/")
    return Path(default_storage.path(name)) if root == "private" else Path(settings.OUTGOING_MAIL_DIR) / name


def _files_now(using: str) -> set[Path]:
    """The files that what is in the database now stands on."""
    outgoing = Path(settings.OUTGOING_MAIL_DIR)
    mails = set(outgoing.glob("*.eml")) if outgoing.is_dir() else set()
    return {Path(default_storage.path(name)) for name in named_files(using)} | mails


@contextlib.contextmanager
def _staged(folder: Path) -> Iterator[list[tuple[Path, Path]]]:
    """The files of the backup beside their places, as (copy, place); copies left over are removed."""
    staged: list[tuple[Path, Path]] = []
    try:
        for entry in listed_files(folder):
            place = _place(entry["path"])
            part = place.with_name(place.name + _STAGED)
            part.unlink(missing_ok=True)
            staged.append((part, place))
            with (folder / entry["path"]).open("rb") as source:
                if copy_to(source, part) != {"sha256": entry["sha256"], "bytes": entry["bytes"]}:
                    raise BackupError(_("%(file)s changed while it was read.") % {"file": entry["path"]})
        yield staged
    finally:
        for part, _place_of in staged:
            part.unlink(missing_ok=True)
