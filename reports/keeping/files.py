"""The files behind the rows: which there are, and removing them for good."""

import logging
from collections.abc import Iterable
from email import policy
from email.parser import BytesHeaderParser
from pathlib import Path

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection

from reports.keeping.belongings import Belonging
from reports.keeping.identity import Identity

log = logging.getLogger("desk.keeping")


def files_of(share: Belonging) -> list[str]:
    """Names in the store of every file that rows of this share name."""
    found: list[str] = []
    for column in share.held.files:
        found += [name for name in share.rows.values_list(column, flat=True) if name]
    return found


def remove_files(names: Iterable[str]) -> list[str]:
    """Delete files from the store; one that is gone already is fine. Returns those that would not go."""
    left = []
    for name in names:
        try:
            default_storage.delete(name)
        except OSError:
            left.append(name)
    return left


def remove_mails(message_ids: set[str], who: Identity) -> int:
    """Delete the mails kept as files that are these messages, or that went to this person."""
    folder = Path(settings.OUTGOING_MAIL_DIR)
    removed = 0
    for path in folder.glob("*.eml") if folder.is_dir() else ():
        with path.open("rb") as file:
            headers = BytesHeaderParser(policy=policy.default).parse(file)
        if str(headers["Message-ID"]).strip() in message_ids or who.found_in(str(headers["To"])):
            path.unlink(missing_ok=True)
            removed += 1
    return removed


def overwrite_freed_space() -> None:
    """SQLite: what is deleted from now on is overwritten with zeros in the database file."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA secure_delete = ON")


def forget_freed_space() -> None:
    """SQLite: write the database file anew and empty its journal, so that no old page is left in either.

    When somebody else holds the database for too long this is put off, and said in the log.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        return
    try:
        with connection.cursor() as cursor:
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            busy = cursor.fetchone()[0]
    except DatabaseError as error:
        log.warning("Old pages of the database stay (%s). Erase again when it is quiet.", error)
        return
    if busy:
        log.warning("The journal of the database is in use: old pages stay in it a little longer.")
