"""Rows of every table as lines of text and back, the same on SQLite and PostgreSQL."""

import base64
import datetime
import decimal
import json
import uuid
from collections.abc import Iterable, Iterator
from typing import Any

from django.apps import apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

# Who is signed in is not kept: whoever finds a backup must not become somebody. People sign in again.
LEFT_OUT = {"sessions.Session": "who is signed in right now"}
_CHUNK = 500


def kept_models() -> list[type[models.Model]]:
    """Every table that a backup holds, in the order of their names."""
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.label not in LEFT_OUT
    ]
    return sorted(found, key=lambda model: model._meta.db_table)


def columns_of(model: type[models.Model]) -> list[str]:
    return [field.attname for field in model._meta.concrete_fields]


def read_rows(model: type[models.Model], using: str) -> Iterator[str]:
    """Each row as one line of JSON: a list of values in the order of `columns_of`. Never all at once."""
    rows = model._base_manager.using(using).order_by("pk").values_list(*columns_of(model))
    for values in rows.iterator(chunk_size=_CHUNK):
        yield json.dumps(values, default=_packed, ensure_ascii=False, separators=(",", ":"))


def _packed(value: Any) -> Any:
    """Kinds of values that JSON does not know, as text; the column knows what it was."""
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, decimal.Decimal | uuid.UUID):
        return str(value)
    if isinstance(value, datetime.timedelta):
        return value.total_seconds()
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    raise TypeError(f"A backup cannot hold a value of the kind {type(value).__name__}.")


def _unpacked(field: "models.Field[Any, Any]", value: Any) -> Any:
    if isinstance(field, models.JSONField):
        # The null of JSON, where the column takes no other.
        return value if value is not None or field.null else models.Value(None, models.JSONField())
    if value is None:
        return None
    if isinstance(field, models.BinaryField):
        return base64.b64decode(value)
    if isinstance(field, models.DurationField):
        return datetime.timedelta(seconds=value)
    if isinstance(field, models.ForeignKey):
        return _unpacked(field.target_field, value)
    return field.to_python(value)


def write_rows(model: type[models.Model], lines: Iterable[str], using: str) -> int:
    """Insert rows exactly as they were, keys and dates included. Returns how many."""
    fields = list(model._meta.concrete_fields)
    connection = connections[using]
    size = min(_CHUNK, connection.ops.bulk_batch_size(fields, [None] * _CHUNK))
    batch: list[models.Model] = []
    count = 0
    for line in lines:
        values = json.loads(line)
        batch.append(model(**{f.attname: _unpacked(f, v) for f, v in zip(fields, values, strict=True)}))
        if len(batch) >= size:
            count += _insert(model, fields, batch, using)
            batch = []
    return count + (_insert(model, fields, batch, using) if batch else 0)


def _insert(
    model: type[models.Model], fields: "list[models.Field[Any, Any]]", batch: list[models.Model], using: str
) -> int:
    # Raw: a column that notes the moment of saving keeps what it held.
    model._base_manager.using(using)._insert(batch, fields=fields, using=using, raw=True)  # type: ignore[attr-defined]
    return len(batch)


# --- the next number of each table ----------------------------------------------------------------
def counted_models() -> list[type[models.Model]]:
    """Tables that number their rows themselves."""
    return [model for model in kept_models() if isinstance(model._meta.pk, models.AutoField)]


def last_numbers(using: str) -> dict[str, int]:
    """The highest number each table ever gave, so that one that was deleted is not given twice."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, seq FROM sqlite_sequence")
            given = {name: int(number) for name, number in cursor.fetchall()}
            return {m._meta.db_table: given.get(m._meta.db_table, 0) for m in counted_models()}
        return {m._meta.db_table: _postgresql_number(cursor, m) for m in counted_models()}


def _sequence(cursor: Any, model: type[models.Model]) -> str:
    cursor.execute(
        "SELECT pg_get_serial_sequence(%s, %s)", [f'"{model._meta.db_table}"', model._meta.pk.column]
    )
    return str(cursor.fetchone()[0])


def _postgresql_number(cursor: Any, model: type[models.Model]) -> int:
    cursor.execute(f"SELECT last_value, is_called FROM {_sequence(cursor, model)}")  # noqa: S608 - its own answer
    last, called = cursor.fetchone()
    return int(last) if called else int(last) - 1


def set_last_numbers(numbers: dict[str, int], using: str) -> None:
    """Go on counting where the backup stopped."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for model in counted_models():
            table, number = model._meta.db_table, numbers.get(model._meta.db_table, 0)
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                if number:
                    cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, number])
            else:
                cursor.execute(
                    "SELECT setval(%s, %s, %s)", [_sequence(cursor, model), max(number, 1), number > 0]
                )


def empty_tables(using: str) -> None:
    """Remove every row of every table, those not kept in a backup too."""
    connection: BaseDatabaseWrapper = connections[using]
    tables = [m._meta.db_table for m in apps.get_models(include_auto_created=True) if m._meta.managed]
    quoted = [connection.ops.quote_name(table) for table in tables]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for table in quoted:
                cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - names of our own tables
        else:
            cursor.execute(f"TRUNCATE {', '.join(quoted)}")


def filled_tables(using: str) -> list[str]:
    """Tables with rows that `migrate` does not make by itself."""
    by_itself = {"contenttypes.ContentType", "auth.Permission"}
    return [
        model._meta.db_table
        for model in kept_models()
        if model._meta.label not in by_itself and model._base_manager.using(using).exists()
    ]
