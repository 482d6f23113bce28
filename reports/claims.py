"""Taking background work: a row is one worker's for the length of a lease, on SQLite and PostgreSQL alike."""

import random
import uuid
from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any, TypeVar

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from reports.models import Work

Row = TypeVar("Row", bound=Work)

MAX_TRIES = 10
FIRST_PAUSE_S = 30.0
PAUSE_GROWTH = 3.0
LONGEST_PAUSE_S = 4 * 3600.0


def free(now: datetime) -> Q:
    """What is due and nobody holds."""
    unclaimed = Q(claimed_until__isnull=True) | Q(claimed_until__lt=now)
    return Q(due_at__lte=now) & unclaimed


def claim(
    rows: QuerySet[Row], *, worker: str, lease: timedelta, now: datetime | None, related: Collection[str] = ()
) -> Row | None:
    """Take the row of `rows` that is due longest; None when none is free. A claim counts as a try.

    The UPDATE repeats the condition, so of two takers one gets it. `worker` says who takes it, for the log.
    """
    token = f"{worker[:40]}-{uuid.uuid4().hex}"
    while True:
        moment = now or timezone.now()
        found = rows.filter(free(moment)).order_by("due_at", "pk").values_list("pk", flat=True).first()
        if found is None:
            return None
        taken = rows.filter(free(moment), pk=found).update(
            claimed_by=token, claimed_until=moment + lease, tries=F("tries") + 1
        )
        if taken:
            row = rows.model._default_manager.select_related(*related).get(pk=found)
            row.claimed_by = token
            return row


def update_claimed(row: Work, *, states: Collection[str], **changes: Any) -> bool:
    """Change the row only while it is still ours; says whether it was."""
    ours: dict[str, Any] = {"pk": row.pk, "claimed_by": row.claimed_by, "state__in": states}
    held = type(row)._default_manager.filter(**ours)
    return bool(held.update(**changes))


def pause_s(tries: int) -> float:
    """Seconds to wait after the `tries`-th failed try (1, 2, …): 30 s, then three times as long each time, to
    4 h at most, of which chance takes off up to a fifth, so that much work does not come back together.

    The ten tries span 10 to 13 hours: a server that is down overnight is outlasted.
    """
    whole = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * PAUSE_GROWTH ** (tries - 1))
    return whole * random.uniform(0.8, 1.0)  # noqa: S311 - spreads load, guards nothing
