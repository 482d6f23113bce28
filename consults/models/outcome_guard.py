"""What the database itself refuses: a recorded outcome cannot be changed, only corrected by a newer row.

Who recorded it may be lost, when that person's account is deleted.
"""

from typing import Any

from django.db import connections

_TABLE = "consults_outcome"
_MAY_CHANGE = {"recorded_by_id"}
_MESSAGE = "a recorded outcome never changes"


def install_outcome_guard(using: str = "default", **kwargs: Any) -> None:
    """Create the trigger anew on this database (after every migrate; safe to repeat)."""
    connection = connections[using]
    if _TABLE not in connection.introspection.table_names():
        return
    remove_outcome_guard(using)
    with connection.cursor() as cursor:
        described = connection.introspection.get_table_description(cursor, _TABLE)
        fixed = [f'"{column.name}"' for column in described if column.name not in _MAY_CHANGE]
        for statement in _sqlite(fixed) if connection.vendor == "sqlite" else _postgresql(fixed):
            cursor.execute(statement)


def remove_outcome_guard(using: str = "default", **kwargs: Any) -> None:
    """Take the trigger away: before a migration, because it hinders the rebuilding of its table."""
    connection = connections[using]
    if _TABLE not in connection.introspection.table_names():
        return
    on = "" if connection.vendor == "sqlite" else f" ON {_TABLE}"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER IF EXISTS outcome_fixed{on}")


def _sqlite(fixed: list[str]) -> list[str]:
    changed = " OR ".join(f"NEW.{column} IS NOT OLD.{column}" for column in fixed)
    return [
        f"CREATE TRIGGER outcome_fixed BEFORE UPDATE ON {_TABLE} WHEN {changed}"
        f" BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END"
    ]


def _postgresql(fixed: list[str]) -> list[str]:
    changed = " OR ".join(f"NEW.{c}::text IS DISTINCT FROM OLD.{c}::text" for c in fixed)
    refuse = f"RAISE EXCEPTION '{_MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';"
    return [
        f"CREATE OR REPLACE FUNCTION consults_outcome_fixed() RETURNS trigger AS $$ BEGIN IF {changed}"
        f" THEN {refuse} END IF; RETURN NEW; END $$ LANGUAGE plpgsql",
        f"CREATE TRIGGER outcome_fixed BEFORE UPDATE ON {_TABLE} FOR EACH ROW"
        " EXECUTE FUNCTION consults_outcome_fixed()",
    ]
