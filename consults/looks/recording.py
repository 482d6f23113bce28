"""Records what a look came to: an outcome that never changes, the look closed or another day agreed on."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.cases.services import case_confirm
from consults.choices import CameTo, CaseStatus, Confirmed, Progress, Seen
from consults.errors import DeskError
from consults.looks.asking import values_before
from consults.looks.services import check_in_for, lock_open_look
from consults.models import Case, CheckIn, FollowUp, Outcome
from consults.plans.services import follow_up_record
from garden.access import Right, check_right
from garden.models import Reading, Staff

# The look itself knows four words; an outcome is more particular.
_PROGRESS = {
    CameTo.SOLVED: Progress.BETTER,
    CameTo.BETTER: Progress.BETTER,
    CameTo.SAME: Progress.SAME,
    CameTo.WORSE: Progress.WORSE,
    CameTo.LOST: Progress.WORSE,
    CameTo.UNKNOWN: Progress.UNKNOWN,
}


@dataclass(frozen=True)
class Judged:
    """What staff say of a look. `effects`: Effect by key of the plan's line; `findings`: Seen by code."""

    came_to: str
    causes: Sequence[str] = ()
    how: str = ""
    effects: Mapping[str, str] = field(default_factory=dict)
    findings: Mapping[str, str] = field(default_factory=dict)
    note: str = ""


def look_record(
    *, look: FollowUp, judged: Judged, by: Staff, next_on: datetime.date | None = None
) -> Outcome:
    """Record what a look came to. With `next_on` we look again that day; without, the look is closed, and the
    case with it when a cause was confirmed.

    Raises DeskError when the look is closed already or something is missing, PermissionDenied without the
    right: to enter findings, and to confirm causes where one is named.
    """
    _check(judged, by)
    if next_on is not None and next_on <= timezone.localdate():
        raise DeskError(_("Choose a day after today for the next look."))
    with transaction.atomic():
        # The case first: whoever issues or drafts a plan waits for it too, so nothing deadlocks.
        case = Case.objects.select_for_update().get(pk=look.plan.case_id)
        check_in = check_in_for(look)
        look = lock_open_look(check_in)
        outcome = _outcome(check_in, judged, by, ends=next_on is None)
        if next_on is not None:
            look.due_on, look.note = next_on, judged.note
            look.save(update_fields=["due_on", "note"])
            return outcome
        follow_up_record(follow_up=look, progress=_PROGRESS[CameTo(judged.came_to)], note=judged.note, by=by)
        if judged.causes:
            case_confirm(case=case, cause=judged.causes[0], how=judged.how, by=by)
    return outcome


def outcome_correct(*, outcome: Outcome, judged: Judged, by: Staff) -> Outcome:
    """Record a newer row that takes the place of this one; the case's confirmed cause follows.

    Raises DeskError when it was corrected already, PermissionDenied without the right.
    """
    _check(judged, by)
    if outcome.confirmed_causes or judged.causes:
        check_right(by, Right.CONFIRM_CAUSES)
    with transaction.atomic():
        case = Case.objects.select_for_update().get(pk=outcome.case_id)
        if Outcome.objects.filter(corrects=outcome).exists():
            raise DeskError(_("This was corrected already. Correct the newer one."))
        newer = _outcome(outcome.check_in, judged, by, ends=outcome.ends, corrects=outcome)
        look = FollowUp.objects.filter(
            plan=outcome.plan_id, due_on=outcome.check_in.due_on, done_at__isnull=False
        ).first()
        if look is not None:
            look.progress, look.note = _PROGRESS[CameTo(judged.came_to)], judged.note
            look.save(update_fields=["progress", "note"])
        if judged.causes and case.status == CaseStatus.CLOSED:
            case_confirm(case=case, cause=judged.causes[0], how=judged.how, by=by)
    return newer


def _check(judged: Judged, by: Staff) -> None:
    check_right(by, Right.EDIT_CASES)
    if judged.came_to not in CameTo.values:
        raise DeskError(_("Say how it is now."))
    if judged.causes:
        check_right(by, Right.CONFIRM_CAUSES)
        if judged.how not in Confirmed.values:
            raise DeskError(_("Say how the cause was confirmed."))


def _outcome(
    check_in: CheckIn, judged: Judged, by: Staff, *, ends: bool, corrects: Outcome | None = None
) -> Outcome:
    plan = check_in.plan
    snapshot = plan.snapshot or {}
    before = dict.fromkeys([entry["code"] for entry in snapshot.get("seen", [])], Seen.PRESENT.value)
    before |= dict.fromkeys([entry["code"] for entry in snapshot.get("not_seen", [])], Seen.ABSENT.value)
    issued = timezone.localdate(plan.issued_at) if plan.issued_at else timezone.localdate()
    looked = timezone.localdate()
    if corrects is not None:
        looked = issued + datetime.timedelta(days=corrects.days_to_look)
    outcome = Outcome.objects.create(
        case_id=plan.case_id,
        plan=plan,
        check_in=check_in,
        ranking=plan.ranking,
        ruleset=plan.ranking.ruleset if plan.ranking else None,
        confirmed_causes=list(judged.causes),
        confirmed_how=judged.how if judged.causes else "",
        actions=_actions(check_in, judged.effects),
        findings_before=before,
        findings_after={code: state for code, state in judged.findings.items() if state in Seen.values},
        came_to=judged.came_to,
        days_to_look=max(0, (looked - issued).days),
        ends=ends,
        recorded_by=by,
        corrects=corrects,
    )
    outcome.readings_before.set(corrects.readings_before.all() if corrects else readings_before(check_in))
    outcome.readings_after.set(check_in.readings.all())
    return outcome


def _actions(check_in: CheckIn, effects: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "action": action.pk,
            "code": action.code,
            "causes": action.causes,
            "done": check_in.actions_done.get(str(action.pk), ""),
            "effect": effects.get(str(action.pk), ""),
        }
        for action in check_in.plan.actions.filter(included=True)
    ]


def readings_before(check_in: CheckIn) -> list[Reading]:
    """The rows of the readings the plan was made from: of each quantity the last one before it was issued."""
    plan = check_in.plan
    wanted, rows = values_before(plan), plan.case.readings.order_by("taken_at", "pk")
    if plan.issued_at:
        rows = rows.filter(taken_at__lte=plan.issued_at)
    return list({row.quantity: row for row in rows if row.quantity in wanted}.values())
