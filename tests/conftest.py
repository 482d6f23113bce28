"""What every test shares. A property is never judged by how fast this machine happened to be.

The same examples are tried each time, so that one commit always gives one answer. DESK_EXPLORE=1 tries new
ones; a failure found so becomes an example of its own.
"""

import os

import pytest
from hypothesis import settings

settings.register_profile("desk", deadline=None, derandomize=True)
settings.register_profile("explore", deadline=None)
settings.load_profile("explore" if os.environ.get("DESK_EXPLORE") else "desk")


_DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark whatever reaches the database, also by a fixture, so that `-m django_db` finds all of it."""
    for item in items:
        if _DATABASE_FIXTURES & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.django_db)
