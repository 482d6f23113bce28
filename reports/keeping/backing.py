"""Making a backup: tables and files as they were at one moment, while the site goes on."""

import contextlib
import json
import shutil
import sqlite3
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connections, models, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from reports.keeping.folders import (
    FILES,
    FORMAT,
    BackupError,
    copy_to,
    create,
    hash_of,
    write_lines,
    write_manifest,
)
from reports.keeping.tables import LEFT_OUT, columns_of, kept_models, last_numbers, read_rows

SNAPSHOT = "keeping-snapshot"
_TRIES = 3
HOLDS = _lazy(
    "Everything about growers and staff, photos, plans and mails, and the hashes of the staff's passwords. "
    "Not the secret key, not the passwords of database, broker and mail server, not who is signed in. "
    "Keep it as you keep the shop's keys."
)


@dataclass(frozen=True)
class Made:
    """What a backup came to."""

    rows: int
    files: int
    size: int
    missing: tuple[str, ...]


class _MovedError(Exception):
    """A file went away after the moment of the snapshot."""


def backup_make(folder: Path, *, using: str = "default") -> Made:
    """Make a backup in a folder that is new or empty. Raises BackupError; what was begun is then removed.

    A file that is deleted while we copy belongs to a moment that has passed: then all is begun anew.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BackupError(_("%(folder)s is not empty. Name a new folder.") % {"folder": folder})
    for last_try in (*[False] * (_TRIES - 1), True):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.chmod(0o700)
        try:
            return _make(folder, using, forgiving=last_try)
        except _MovedError:
            _clear(folder)
        except BaseException:
            _clear(folder)
            raise
    raise AssertionError("the last try either ends or raises")


def _clear(folder: Path) -> None:
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()


def _make(folder: Path, using: str, *, forgiving: bool) -> Made:
    now = timezone.now()
    tables: dict[str, Any] = {}
    with frozen(folder, using) as alias:
        migrations = migrations_of(alias)
        numbers = last_numbers(alias)
        for model in kept_models():
            table = model._meta.db_table
            told = write_lines(read_rows(model, alias), folder / "tables" / f"{table}.jsonl.gz")
            tables[table] = {**told, "columns": columns_of(model), "last_number": numbers.get(table)}
        missing, files = _copy_files(folder, alias, using, forgiving=forgiving)
    write_manifest(
        folder,
        {
            "desk_backup": FORMAT,
            "made_at": now.isoformat(),
            "program": program_version(),
            "database": connections[using].vendor,
            "holds": str(HOLDS),
            "left_out": LEFT_OUT,
            "migrations": migrations,
            "tables": tables,
            "files": {**hash_of(folder / FILES), **files},
            "missing": missing,
        },
    )
    size = sum(table["bytes"] for table in tables.values()) + files["size"]
    return Made(sum(t["rows"] for t in tables.values()), files["count"], size, tuple(missing))


def migrations_of(using: str) -> dict[str, list[str]]:
    """The applied migrations by app, in order of their names."""
    found: dict[str, list[str]] = {}
    for app, name in sorted(MigrationRecorder(connections[using]).applied_migrations()):
        found.setdefault(app, []).append(name)
    return found


def program_version() -> str:
    content = tomllib.loads((Path(settings.ROOT) / "pyproject.toml").read_text())
    return str(content["project"]["version"])


# --- one moment -----------------------------------------------------------------------------------
@contextlib.contextmanager
def frozen(folder: Path, using: str) -> Iterator[str]:
    """The alias of a connection that sees the database as it is now, whatever is written meanwhile."""
    source = connections[using]
    if source.vendor == "sqlite":
        copy = folder / "snapshot.sqlite3"
        create(copy).close()
        try:
            _copy_sqlite(source, copy)
            with _aliased({**source.settings_dict, "NAME": str(copy), "OPTIONS": {}}):
                yield SNAPSHOT
        finally:
            copy.unlink(missing_ok=True)
        return
    options = {**source.settings_dict["OPTIONS"], "isolation_level": psycopg.IsolationLevel.REPEATABLE_READ}
    with _aliased({**source.settings_dict, "OPTIONS": options}), transaction.atomic(using=SNAPSHOT):
        with connections[SNAPSHOT].cursor() as cursor:
            cursor.execute("SET TRANSACTION READ ONLY")
        yield SNAPSHOT


def _copy_sqlite(source: Any, path: Path) -> None:
    """SQLite's own copying of a database in use: all pages in one step, so of one moment."""
    source.ensure_connection()
    with contextlib.closing(sqlite3.connect(path)) as target:
        source.connection.backup(target, pages=-1)
        target.execute("PRAGMA journal_mode = DELETE")


@contextlib.contextmanager
def _aliased(database: dict[str, Any]) -> Iterator[None]:
    connections.databases[SNAPSHOT] = database
    try:
        yield
    finally:
        connections[SNAPSHOT].close()
        del connections[SNAPSHOT]
        del connections.databases[SNAPSHOT]


# --- files ----------------------------------------------------------------------------------------
def named_files(using: str) -> Iterator[str]:
    """The name in the store of every file that a row names."""
    for model in kept_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, models.FileField):
                rows = model._base_manager.using(using).exclude(**{field.attname: ""}).order_by(field.attname)
                yield from rows.values_list(field.attname, flat=True).distinct().iterator(chunk_size=500)


def _copy_files(folder: Path, alias: str, using: str, *, forgiving: bool) -> tuple[list[str], dict[str, int]]:
    missing: list[str] = []
    count = size = 0
    with create(folder / FILES) as listed:
        for path, source in _sources(alias):
            try:
                with source.open("rb") as file:
                    told = copy_to(file, folder / path)
            except FileNotFoundError:
                if path.startswith("private/"):
                    _note_missing(path.removeprefix("private/"), using, missing, forgiving=forgiving)
                continue
            listed.write(json.dumps({"path": path, **told}, ensure_ascii=False).encode() + b"\n")
            count, size = count + 1, size + told["bytes"]
    return missing, {"count": count, "size": size}


def _sources(alias: str) -> Iterator[tuple[str, Path]]:
    """(path in the backup, file) of everything to copy: what rows name, and the mails kept as files."""
    for name in named_files(alias):
        yield f"private/{name}", Path(default_storage.path(name))
    outgoing = Path(settings.OUTGOING_MAIL_DIR)
    for mail in sorted(outgoing.glob("*.eml")) if outgoing.is_dir() else ():
        yield f"outgoing/{mail.name}", mail


def _note_missing(name: str, using: str, missing: list[str], *, forgiving: bool) -> None:
    """A file that a row still names was lost before; one that no row names any more went away just now."""
    if not forgiving and name not in set(named_files(using)):
        raise _MovedError
    missing.append(name)
