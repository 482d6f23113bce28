"""What plans came to, as plain data: what later work on the rules learns from."""

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from consults.models import Outcome


@dataclass(frozen=True)
class ActionOutcome:
    """One line of a plan: `done` is done, partly, not-done or ""; `effect` helped, nothing, harmed or ""."""

    code: str
    causes: tuple[str, ...]
    done: str
    effect: str


@dataclass(frozen=True)
class OutcomeData:
    """One look as it is judged now. Readings in stored units; findings are "present" or "absent" by code.

    `ranking` is the whole reckoning the plan was made from, as it was then, by the rules `ruleset`.
    `causes` is empty where nobody confirmed one. `ends` is False where another look was agreed on.
    """

    outcome: int
    case: int
    plan: int
    plan_version: int
    ruleset: str
    chosen_causes: tuple[str, ...]
    ranking: dict[str, Any]
    causes: tuple[str, ...]
    how: str
    came_to: str
    ends: bool
    days_to_look: int
    actions: tuple[ActionOutcome, ...]
    findings_before: dict[str, str]
    findings_after: dict[str, str]
    readings_before: dict[str, float]
    readings_after: dict[str, float]
    recorded_at: datetime.datetime


def outcomes_in_force() -> QuerySet[Outcome]:
    """Outcomes no newer row corrects, oldest first."""
    return Outcome.objects.filter(corrected_by__isnull=True).order_by("pk")


def outcomes_data() -> Iterator[OutcomeData]:
    """Every look judged so far, as it is judged now. A fixed number of queries for each thousand looks."""
    rows = outcomes_in_force().select_related("plan", "ruleset", "ranking")
    rows = rows.prefetch_related("readings_before", "readings_after")
    for row in rows.iterator(chunk_size=1000):
        yield _data(row)


def _data(row: Outcome) -> OutcomeData:
    return OutcomeData(
        outcome=row.pk,
        case=row.case_id,
        plan=row.plan_id,
        plan_version=row.plan.version,
        ruleset=row.ruleset.version if row.ruleset else "",
        chosen_causes=tuple(row.plan.causes),
        ranking=row.ranking.result if row.ranking else {},
        causes=tuple(row.confirmed_causes),
        how=row.confirmed_how,
        came_to=row.came_to,
        ends=row.ends,
        days_to_look=row.days_to_look,
        actions=tuple(
            ActionOutcome(entry["code"], tuple(entry["causes"]), entry["done"], entry["effect"])
            for entry in row.actions
        ),
        findings_before=row.findings_before,
        findings_after=row.findings_after,
        readings_before={reading.quantity: reading.value for reading in row.readings_before.all()},
        readings_after={reading.quantity: reading.value for reading in row.readings_after.all()},
        recorded_at=row.recorded_at,
    )
