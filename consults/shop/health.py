"""What /health looks at. Floors above add their own with `register_check`."""

from collections.abc import Callable

import redis
from django.conf import settings
from django.db import DatabaseError, connection
from redis.backoff import NoBackoff
from redis.retry import Retry

_registered: dict[str, Callable[[], str | None]] = {}
_PATIENCE_S = 1


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


def redis_client() -> redis.Redis:
    """A connection that gives up soon: a page must not hang because Redis does."""
    return redis.Redis.from_url(
        settings.REDIS_URL,
        socket_connect_timeout=_PATIENCE_S,
        socket_timeout=_PATIENCE_S,
        retry=Retry(NoBackoff(), 0),
    )


def redis_problem() -> str | None:
    """Whether Redis answers, where there is one. Without it pages work, and emails wait."""
    if not settings.REDIS_URL:
        return None
    try:
        with redis_client() as client:
            client.ping()
    except (redis.RedisError, OSError):
        return "Redis does not answer: emails wait until it does."
    return None


def health_report() -> tuple[bool, dict[str, object]]:
    """Whether the site can work, and the report as plain data.

    A site that is in trouble but shows its pages still counts as working: a front server that asks here
    must not take the desk away from the shop because emails wait.
    """
    broken = database_problem()
    problems = [said for said in (broken, redis_problem()) if said]
    warnings = {name: said for name, check in sorted(_registered.items()) if (said := check())}
    report: dict[str, object] = {
        "status": "failing" if broken else "troubled" if problems else "ok",
        "problems": problems,
        "warnings": warnings,
    }
    return broken is None, report
