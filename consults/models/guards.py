"""What the database itself refuses: an issued plan cannot be changed or its actions rewritten.

One narrow way leads through. While the grower's `Erasure` is open, which it is only inside the transaction
that erases, the words of the plan may be taken out: the greeting emptied, the snapshot replaced by one marked
as erased that still says what was seen, measured, judged and by which rules; texts of actions replaced.
Which plan it was, when and by whom it was issued, and the hash of what was issued, stay fixed even then.
"""

from typing import Any

from django.db import connections

_PLAN_COLUMNS = (
    "case_id",
    "version",
    "status",
    "causes",
    "greeting",
    "look_again_on",
    "issued_at",
    "issued_by_id",
    "ranking_id",
    "snapshot",
    "snapshot_sha256",
)
_PLAN_WORDS = ("greeting", "snapshot")
_ACTION_WORDS = ("text", "quantity")
# What a snapshot goes on saying after its grower was erased: all of it comes from the rules or from meters.
OUTCOME_KEYS = (
    "plan_snapshot",
    "ruleset",
    "seen",
    "not_seen",
    "practices",
    "readings",
    "causes",
    "other_causes",
    "enough_to_tell",
    "fit",
)
_MESSAGE = "an issued plan never changes"


# --- SQLite ---------------------------------------------------------------------------------------
def _sqlite_changed(columns: tuple[str, ...]) -> str:
    return " OR ".join(f"NEW.{column} IS NOT OLD.{column}" for column in columns)


def _sqlite_ways(of_action: tuple[str, ...] | None) -> tuple[str, str]:
    """Conditions under which an issued plan, and an action of one, may be changed."""
    if of_action is None:
        return "0", "0"
    of_plan = (
        "EXISTS (SELECT 1 FROM consults_erasure e JOIN consults_case c ON c.grower_id = e.grower_id"
        " WHERE e.is_open AND c.id = {case})"
    )
    kept = " AND ".join(
        f"json_extract(NEW.snapshot, '$.{key}') IS json_extract(OLD.snapshot, '$.{key}')"
        for key in OUTCOME_KEYS
    )
    fixed = tuple(column for column in _PLAN_COLUMNS if column not in _PLAN_WORDS)
    plan = (
        f"({of_plan.format(case='OLD.case_id')} AND NOT ({_sqlite_changed(fixed)}) AND NEW.greeting = ''"
        f" AND json_extract(NEW.snapshot, '$.erased') IS 1 AND {kept})"
    )
    its_case = "(SELECT case_id FROM consults_plan WHERE id = OLD.plan_id)"
    action = f"({of_plan.format(case=its_case)} AND NOT ({_sqlite_changed(of_action)}))"
    return plan, action


def _sqlite_statements(of_action: tuple[str, ...] | None) -> list[str]:
    plan_way, action_way = _sqlite_ways(of_action)
    issued_parent = "EXISTS (SELECT 1 FROM consults_plan WHERE status = 'issued' AND id IN ({rows}))"
    statements = [
        f"CREATE TRIGGER plan_fixed BEFORE UPDATE ON consults_plan WHEN OLD.status = 'issued'"
        f" AND ({_sqlite_changed(_PLAN_COLUMNS)}) AND NOT {plan_way}"
        f" BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END",
    ]
    for verb, rows, way in (
        ("INSERT", "NEW.plan_id", "0"),
        ("UPDATE", "OLD.plan_id, NEW.plan_id", action_way),
    ):
        statements.append(
            f"CREATE TRIGGER action_fixed_{verb.lower()} BEFORE {verb} ON consults_planaction"
            f" WHEN {issued_parent.format(rows=rows)} AND NOT {way}"
            f" BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END"
        )
    return statements


_SQLITE_REMOVAL = [
    f"DROP TRIGGER IF EXISTS {name}" for name in ("plan_fixed", "action_fixed_insert", "action_fixed_update")
]


# --- PostgreSQL -----------------------------------------------------------------------------------
def _postgresql_changed(columns: tuple[str, ...]) -> str:
    return " OR ".join(f"NEW.{c}::text IS DISTINCT FROM OLD.{c}::text" for c in columns)


def _postgresql_ways(of_action: tuple[str, ...] | None) -> tuple[str, str]:
    """Conditions under which an issued plan, and an action of one, may be changed."""
    if of_action is None:
        return "FALSE", "FALSE"
    of_plan = (
        "EXISTS (SELECT 1 FROM consults_erasure e JOIN consults_case c ON c.grower_id = e.grower_id"
        " WHERE e.is_open AND c.id = {case})"
    )
    kept = " AND ".join(
        f"NEW.snapshot->'{key}' IS NOT DISTINCT FROM OLD.snapshot->'{key}'" for key in OUTCOME_KEYS
    )
    fixed = tuple(column for column in _PLAN_COLUMNS if column not in _PLAN_WORDS)
    plan = (
        f"({of_plan.format(case='OLD.case_id')} AND NOT ({_postgresql_changed(fixed)}) AND NEW.greeting = ''"
        f" AND COALESCE(NEW.snapshot->'erased' = 'true'::jsonb, FALSE) AND {kept})"
    )
    its_case = "(SELECT case_id FROM consults_plan WHERE id = OLD.plan_id)"
    action = (
        f"(TG_OP = 'UPDATE' AND {of_plan.format(case=its_case)} AND NOT ({_postgresql_changed(of_action)}))"
    )
    return plan, action


def _postgresql_statements(of_action: tuple[str, ...] | None) -> list[str]:
    plan_way, action_way = _postgresql_ways(of_action)
    refuse = f"RAISE EXCEPTION '{_MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';"
    function = (
        "CREATE OR REPLACE FUNCTION {name}() RETURNS trigger AS $$ BEGIN IF {when} AND NOT {way}"
        " THEN {refuse} END IF; RETURN NEW; END $$ LANGUAGE plpgsql"
    )
    touched = "id = NEW.plan_id OR (TG_OP = 'UPDATE' AND id = OLD.plan_id)"
    issued = f"EXISTS (SELECT 1 FROM consults_plan WHERE status = 'issued' AND ({touched}))"  # noqa: S608 - no input in it
    changed = f"OLD.status = 'issued' AND ({_postgresql_changed(_PLAN_COLUMNS)})"
    return [
        function.format(name="consults_plan_fixed", when=changed, way=plan_way, refuse=refuse),
        function.format(name="consults_action_fixed", when=issued, way=action_way, refuse=refuse),
        "CREATE TRIGGER plan_fixed BEFORE UPDATE ON consults_plan FOR EACH ROW"
        " EXECUTE FUNCTION consults_plan_fixed()",
        "CREATE TRIGGER action_fixed BEFORE INSERT OR UPDATE ON consults_planaction FOR EACH ROW"
        " EXECUTE FUNCTION consults_action_fixed()",
    ]


_POSTGRESQL_REMOVAL = [
    "DROP TRIGGER IF EXISTS plan_fixed ON consults_plan",
    "DROP TRIGGER IF EXISTS action_fixed ON consults_planaction",
]


# --- both -----------------------------------------------------------------------------------------
def install_guards(using: str = "default", **kwargs: Any) -> None:
    """Create the triggers anew on this database (after every migrate; safe to repeat)."""
    connection = connections[using]
    tables = connection.introspection.table_names()
    if "consults_planaction" not in tables:
        return
    remove_guards(using)
    make = _sqlite_statements if connection.vendor == "sqlite" else _postgresql_statements
    with connection.cursor() as cursor:
        # Asked of the database: in the middle of an upgrade it has not all columns of the model yet.
        found = connection.introspection.get_table_description(cursor, "consults_planaction")
        fixed = tuple(f'"{column.name}"' for column in found if column.name not in _ACTION_WORDS)
        for statement in make(fixed if "consults_erasure" in tables else None):
            cursor.execute(statement)


def remove_guards(using: str = "default", **kwargs: Any) -> None:
    """Take the triggers away: before a migration, because SQLite will not rename a table while a trigger
    speaks of one that is being rebuilt, and while a backup is written back, row for row.
    """
    connection = connections[using]
    if "consults_planaction" not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        for statement in _SQLITE_REMOVAL if connection.vendor == "sqlite" else _POSTGRESQL_REMOVAL:
            cursor.execute(statement)
