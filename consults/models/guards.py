"""What the database itself refuses: an issued plan cannot be changed or its actions rewritten."""

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
_MESSAGE = "an issued plan never changes"


def _sqlite_statements() -> list[str]:
    changed = " OR ".join(f"NEW.{column} IS NOT OLD.{column}" for column in _PLAN_COLUMNS)
    issued_parent = "EXISTS (SELECT 1 FROM consults_plan WHERE status = 'issued' AND id IN ({rows}))"
    statements = [
        "DROP TRIGGER IF EXISTS plan_fixed",
        f"CREATE TRIGGER plan_fixed BEFORE UPDATE ON consults_plan WHEN OLD.status = 'issued' AND ({changed})"
        f" BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END",
    ]
    for verb, rows in (("INSERT", "NEW.plan_id"), ("UPDATE", "OLD.plan_id, NEW.plan_id")):
        name = f"action_fixed_{verb.lower()}"
        statements += [
            f"DROP TRIGGER IF EXISTS {name}",
            f"CREATE TRIGGER {name} BEFORE {verb} ON consults_planaction"
            f" WHEN {issued_parent.format(rows=rows)} BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END",
        ]
    return statements


def _postgresql_statements() -> list[str]:
    changed = " OR ".join(f"NEW.{c}::text IS DISTINCT FROM OLD.{c}::text" for c in _PLAN_COLUMNS)
    refuse = f"RAISE EXCEPTION '{_MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';"
    function = (
        "CREATE OR REPLACE FUNCTION {name}() RETURNS trigger AS $$ BEGIN IF {when} THEN {refuse} END IF; "
    )
    function += "RETURN NEW; END $$ LANGUAGE plpgsql"
    touched = "id = NEW.plan_id OR (TG_OP = 'UPDATE' AND id = OLD.plan_id)"
    issued = f"EXISTS (SELECT 1 FROM consults_plan WHERE status = 'issued' AND ({touched}))"  # noqa: S608 - no input in it
    return [
        function.format(
            name="consults_plan_fixed", when=f"OLD.status = 'issued' AND ({changed})", refuse=refuse
        ),
        function.format(name="consults_action_fixed", when=issued, refuse=refuse),
        "DROP TRIGGER IF EXISTS plan_fixed ON consults_plan",
        "CREATE TRIGGER plan_fixed BEFORE UPDATE ON consults_plan FOR EACH ROW"
        " EXECUTE FUNCTION consults_plan_fixed()",
        "DROP TRIGGER IF EXISTS action_fixed ON consults_planaction",
        "CREATE TRIGGER action_fixed BEFORE INSERT OR UPDATE ON consults_planaction FOR EACH ROW"
        " EXECUTE FUNCTION consults_action_fixed()",
    ]


def install_guards(using: str = "default", **kwargs: Any) -> None:
    """Create the triggers anew on this database (after every migrate; safe to repeat)."""
    connection = connections[using]
    if "consults_planaction" not in connection.introspection.table_names():
        return
    statements = _sqlite_statements() if connection.vendor == "sqlite" else _postgresql_statements()
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
