"""How often each page asks the database: never more often for more rows, and a reviewed number.

After a change that is meant: UPDATE_QUERY_COUNTS=1 python -m pytest tests/architecture/test_query_counts.py,
then read what changed in query_counts.json before keeping it.
"""

import json
import os
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.architecture.world import OPEN_PAGES, PAGES, PIECES, Address, World, grow, make_world, take
from tests.factories import signed_in

pytestmark = pytest.mark.django_db
REVIEWED = Path(__file__).with_name("query_counts.json")
ALL: dict[str, Address] = {**OPEN_PAGES, **PAGES, **PIECES}


def counts(client: Client, world: World) -> dict[str, int]:
    """Queries of every page by its label, each counted on its second showing: caches are warm."""
    found = {}
    for label, address in ALL.items():
        who = Client() if label in OPEN_PAGES else client
        take(who.get(address(world)))
        with CaptureQueriesContext(connection) as asked:
            page = who.get(address(world))
            take(page)
        assert page.status_code == 200, f"{label}: {page.status_code}"
        found[label] = len(asked)
    return found


@pytest.fixture
def world():
    return make_world()


def test_no_page_asks_more_often_when_there_are_five_times_as_many_rows(world):
    client = signed_in(world.manager)
    few = counts(client, world)
    grow(world, times=4)
    many = counts(client, world)
    assert {label: (few[label], many[label]) for label in ALL if few[label] != many[label]} == {}


def test_every_page_asks_as_often_as_was_reviewed(world):
    found = counts(signed_in(world.manager), world)
    if os.environ.get("UPDATE_QUERY_COUNTS"):
        REVIEWED.write_text(json.dumps(dict(sorted(found.items())), indent=2) + "\n")
    reviewed = json.loads(REVIEWED.read_text())
    assert found == reviewed
