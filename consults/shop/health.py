"""What /health looks at. Floors above add their own with `register_check`."""

from collections.abc import Callable

from django.db import DatabaseError, connection

_registered: dict[str, Callable[[], str | None]] = {}


def register_check(name: str, check: Callable[[], str | None]) -> None:
    """Let `check` say in a sentence what is wrong, or None. What it says is a warning: pages still work."""
    _registered[name] = check


def database_problem() -> str | None:
    """Whether the database answers; without it nothing does."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "The database does not answer."
    return None


def health_report() -> tuple[bool, dict[str, object]]:
    """Whether the site can work, and the report as plain data."""
    broken = database_problem()
    warnings = {name: said for name, check in sorted(_registered.items()) if (said := check())}
    report: dict[str, object] = {
        "status": "failing" if broken else "ok",
        "problems": [broken] if broken else [],
        "warnings": warnings,
    }
    return broken is None, report
