"""Reads for the pages of looks: the list, and before and after on one page."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import get_language

from consults.cases.describe import readings_table
from consults.cases.facts import gather
from consults.cases.rows import casefile_from_rows
from consults.cases.selectors import cause_name
from consults.choices import Change, Effect, HowFar
from consults.looks.asking import action_lines, complaints, values_before
from consults.looks.outcomes import outcomes_in_force
from consults.looks.states import LookRow, row_of, with_answers
from consults.models import CheckIn, FollowUp, Outcome
from consults.rules.selectors import ruleset_current
from garden.models import Photo
from garden.reference.loader import load_reference
from garden.wording import Wording

PAGE = 200


def looks_open() -> list[LookRow]:
    """Looks not done yet, the most overdue first."""
    rows = with_answers(FollowUp.objects.filter(done_at__isnull=True))
    rows = rows.select_related("plan__case__grower", "plan__case__planting").order_by("due_on", "pk")
    today = timezone.localdate()
    return [row_of(look, today) for look in rows[:PAGE]]


def looks_done() -> list[FollowUp]:
    """The last looks done."""
    rows = FollowUp.objects.filter(done_at__isnull=False).select_related(
        "plan__case__grower", "plan__case__planting"
    )
    return list(rows.order_by("-done_at")[:10])


def look_get(pk: int) -> FollowUp:
    """A look with what its pages need; 404 when there is none."""
    rows = FollowUp.objects.select_related(
        "plan__case__grower", "plan__case__planting__space__garden", "plan__ranking__ruleset", "done_by"
    ).prefetch_related(
        "plan__actions",
        "plan__case__findings",
        "plan__case__practices",
        "plan__case__readings",
        "plan__case__planting__space__lamps",
        "plan__case__planting__space__garden__waters",
        "plan__case__planting__space__garden__feeds",
        Prefetch("plan__case__photos"),
        "plan__case__photos__photo",
        Prefetch("plan__check_ins", CheckIn.objects.prefetch_related("readings", "photos", "reminders")),
    )
    return get_object_or_404(rows, pk=pk)


def check_in_of_look(look: FollowUp) -> CheckIn | None:
    """The check-in of a look, without asking again when it was fetched with it; None when there is none."""
    found = next((row for row in look.plan.check_ins.all() if row.due_on == look.due_on), None)
    if found is not None:
        found.plan = look.plan
    return found


@dataclass(frozen=True)
class Pair:
    """One reading then and now, in the grower's units; `row` is drawn on its band, then as a ghost mark."""

    name: str
    unit: str
    then: str
    now: str
    row: dict[str, Any]


@dataclass(frozen=True)
class Told:
    """One question of the check-in and its answer in words, "" where none was given."""

    name: str
    answer: str
    code: str = ""


@dataclass(frozen=True)
class Comparison:
    """Before and after."""

    readings: list[Pair]
    done: list[Told]
    changes: list[Told]
    photos_then: list[Photo]
    photos_now: list[Photo]


def comparison(look: FollowUp, check_in: CheckIn | None) -> Comparison:
    """What was and what is, as far as it was told."""
    plan = look.plan
    done = check_in.actions_done if check_in else {}
    changes = check_in.changes if check_in else {}
    now = list(check_in.photos.all()) if check_in else []
    then = [link.photo for link in plan.case.photos.all() if link.photo not in now]
    return Comparison(
        readings=_pairs(look, check_in),
        done=[Told(line, _label(HowFar, done.get(str(pk))), str(pk)) for pk, line in action_lines(plan)],
        changes=[
            Told(entry["text"], _label(Change, changes.get(entry["code"])), entry["code"])
            for entry in complaints(plan)
        ],
        photos_then=then,
        photos_now=now,
    )


def _label(choices: Any, value: str | None) -> str:
    return str(choices(value).label) if value in choices.values else ""


def _pairs(look: FollowUp, check_in: CheckIn | None) -> list[Pair]:
    """Each reading known then or now, also those computed from others, in the order of the readings file."""
    after = {reading.quantity: reading.value for reading in check_in.readings.all()} if check_in else {}
    then, now = _table(look, values_before(look.plan)), _table(look, after)
    pairs = []
    for code in load_reference().readings:
        before, current = then.get(code), now.get(code)
        row = current or before
        if row is None:
            continue
        drawn = {**row, "previous": before["value"] if before else None}
        if current is None:
            drawn |= {"value": None, "shown": "", "verdict": ""}
        pairs.append(
            Pair(
                name=row["name"],
                unit=row["unit"],
                then=before["shown"] if before else "",
                now=current["shown"] if current else "",
                row=drawn,
            )
        )
    return pairs


def _table(look: FollowUp, readings: dict[str, float]) -> dict[str, dict[str, Any]]:
    """Readings on their bands, by code: those measured, and those computed from them alone."""
    reference, case = load_reference(), look.plan.case
    casefile = casefile_from_rows(case).model_copy(update={"readings": readings})
    without = gather(casefile.model_copy(update={"readings": {}}), reference)
    rows = readings_table(gather(casefile, reference), Wording(case.grower.units), get_language() or "en")
    return {row["code"]: row for row in rows if row["code"] not in without.known}


@dataclass(frozen=True)
class PastLook:
    """A look judged before, in words."""

    outcome: Outcome
    causes: list[str]
    helped: list[str]
    harmed: list[str]


def outcomes_of(case_pk: int) -> list[PastLook]:
    """What the looks of a case came to, newest first."""
    ruleset, language = ruleset_current(), get_language() or "en"
    rows = outcomes_in_force().filter(case=case_pk).select_related("plan", "check_in", "recorded_by")
    found = list(rows.prefetch_related("plan__actions").order_by("-pk"))
    return [
        PastLook(
            outcome,
            [cause_name(ruleset, code, language) for code in outcome.confirmed_causes],
            _lines(outcome, [Effect.HELPED]),
            _lines(outcome, [Effect.HARMED]),
        )
        for outcome in found
    ]


def _lines(outcome: Outcome, effects: Sequence[str]) -> list[str]:
    texts = {action.pk: action.text for action in outcome.plan.actions.all()}
    return [texts[e["action"]] for e in outcome.actions if e["effect"] in effects and e["action"] in texts]
