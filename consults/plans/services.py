"""Writes about plans: drafting, editing, issuing, the next version, the look afterwards."""

import datetime
import hashlib
import json
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from consults.cases.facts import gather
from consults.cases.rows import casefile_from_rows
from consults.cases.services import ranking_store
from consults.choices import CaseStatus, PlanStatus, Progress, When
from consults.errors import DeskError
from consults.models import Case, FollowUp, Plan, PlanAction
from consults.plans.building import DraftAction, build_draft, find_conflicts
from consults.plans.snapshot import build_snapshot
from consults.plans.ways import way_of
from consults.plans.words import own_words
from consults.rules.selectors import ruleset_current
from consults.signals import plan_issued
from garden.access import Right, check_right
from garden.models import Staff
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording

# What decides causes and quantities. The grower's words and address do not.
_WORKED_OUT_FROM = ("garden", "planting", "present", "absent", "practices", "readings", "onset_days")


def plan_draft(*, case: Case, causes: Sequence[str], by: Staff) -> Plan:
    """Make the case's draft for these causes, or make it anew; lines edited by hand are kept. An edited line
    that only causes no longer chosen asked for stays in sight, not ticked.

    Raises DeskError when no cause was chosen or one is unknown.
    """
    check_right(by, Right.DRAFT_PLANS)
    ruleset, reference = ruleset_current(), load_reference()
    if not causes:
        raise DeskError(_("Choose at least one cause, then build the plan."))
    if any(code not in ruleset.causes for code in causes):
        raise DeskError(_("One of the causes is not in the rules any more. Reload the page."))
    language = case.grower.language
    with translation.override(language), transaction.atomic():
        _lock(case.pk)
        facts = gather(casefile_from_rows(case), reference)
        words = own_words(causes, language)
        draft = build_draft(causes, facts, ruleset, Wording(case.grower.units), words)
        plan = case.plans.filter(status=PlanStatus.DRAFT).first()
        if plan is None:
            plan = Plan(case=case, version=case.plans.count() + 1, created_by=by)
            plan.look_again_on = timezone.localdate() + datetime.timedelta(days=draft.look_again_days)
        plan.causes = list(causes)
        plan.ranking = ranking_store(case=case, by=by)
        plan.save()
        _replace_actions(plan, draft.actions, language)
    return plan


def _lock(case_pk: int) -> Case:
    """Take the case's row. All that writes plans of one case waits here first, so nothing deadlocks."""
    return Case.objects.select_for_update().get(pk=case_pk)


def _open_draft(plan_pk: int) -> Plan:
    """The plan as it is now, its case locked; raises DeskError when it was issued or is gone."""
    case_pk = Plan.objects.filter(pk=plan_pk).values_list("case_id", flat=True).first()
    if case_pk is None:
        raise DeskError(_("This plan is gone. Reload the page."))
    _lock(case_pk)
    plan = Plan.objects.get(pk=plan_pk)
    _check_draft(plan)
    return plan


def _replace_actions(plan: Plan, lines: Sequence[DraftAction], language: str) -> None:
    kept = {action.code: action for action in plan.actions.filter(edited=True)}
    plan.actions.filter(edited=False).delete()
    wanted = {line.action.code for line in lines}
    for action in kept.values():
        if action.code and action.code not in wanted and action.included:
            action.included = False
            action.save(update_fields=["included"])
    position = 0
    for line in lines:
        position += 10
        if line.action.code in kept:
            kept[line.action.code].position = position
            kept[line.action.code].save(update_fields=["position"])
            continue
        PlanAction.objects.create(plan=plan, position=position, **_action_values(line, language))


def _action_values(line: DraftAction, language: str) -> dict[str, Any]:
    action, worked, way = line.action, line.worked, way_of(line.action.code)
    return {
        "code": action.code,
        "causes": list(line.causes),
        "included": line.included,
        "when": line.when,
        "waits_for": line.waits_for,
        "text": line.words or text(action.text, language),
        "shop_words": bool(line.words),
        "why": text(action.why, language),
        "worked_when": text(way.works, language) if way.works else "",
        "stop_when": text(action.stop_when, language) if action.stop_when else "",
        "buys": action.buys,
        "reversible": action.reversible,
        "cautions": list(action.cautions),
        "opposes": list(action.opposes),
        "quantity_code": action.quantity or "",
        "quantity": worked.shown if worked else "",
        "working": {
            "title": worked.title, "shown": worked.shown, "lines": list(worked.lines),
            "source": worked.source, "estimate": worked.estimate, "needs": worked.needs,
            "uses": list(worked.uses) if worked.uses else None,
        } if worked else {},
    }  # fmt: skip


def action_edit(
    *,
    action: PlanAction,
    included: bool,
    when: str,
    text: str,
    quantity: str,
    worked_when: str | None = None,
    stop_when: str | None = None,
) -> None:
    """Change a line of a draft; None leaves a part as it is. A changed line is not overwritten when the plan
    is built again. Whoever moves a waiting line to an earlier time has judged: it waits no longer."""
    with transaction.atomic():
        _open_draft(action.plan_id)
        now = PlanAction.objects.filter(pk=action.pk).first()
        if now is None:
            raise DeskError(_("This line is gone: the plan was built again meanwhile. Reload the page."))
        new: dict[str, Any] = {"included": included, "when": when, "text": text, "quantity": quantity}
        new |= {"worked_when": worked_when} if worked_when is not None else {}
        new |= {"stop_when": stop_when} if stop_when is not None else {}
        changed = any(getattr(now, name) != value for name, value in new.items())
        now.shop_words = now.shop_words and text == now.text
        for name, value in new.items():
            setattr(now, name, value)
        if when != When.LATER:
            now.waits_for = ""
        now.edited = now.edited or changed
        now.save()


@transaction.atomic
def action_keep(*, action: PlanAction) -> None:
    """Keep this line of a draft and take out every line that contradicts it."""
    plan = _open_draft(action.plan_id)
    lines = list(plan.actions.all())
    wanted = next((line for line in lines if line.pk == action.pk), None)
    if wanted is None:
        raise DeskError(_("This line is gone: the plan was built again meanwhile. Reload the page."))
    against = [
        line
        for line in lines
        if line.included and line.code and (wanted.code in line.opposes or line.code in wanted.opposes)
    ]
    for line, included in ((wanted, True), *((other, False) for other in against)):
        line.included, line.edited = included, True
        line.save(update_fields=["included", "edited"])


@transaction.atomic
def action_add(
    *,
    plan: Plan,
    when: str,
    text: str,
    quantity: str = "",
    worked_when: str = "",
    stop_when: str = "",
    quantity_code: str = "",
    working: dict[str, Any] | None = None,
    cautions: Sequence[str] = (),
) -> PlanAction:
    """Add a line of the shop's own to a draft. `cautions` are codes of the rules or whole sentences."""
    plan = _open_draft(plan.pk)
    last = plan.actions.order_by("-position").first()
    return PlanAction.objects.create(
        plan=plan,
        position=(last.position if last else 0) + 10,
        when=when,
        text=text,
        quantity=quantity,
        worked_when=worked_when,
        stop_when=stop_when,
        quantity_code=quantity_code,
        working=working or {},
        cautions=list(cautions),
        edited=True,
    )


@transaction.atomic
def plan_tell(*, plan: Plan, greeting: str, look_again_on: datetime.date | None) -> None:
    """Change the opening words and the next look of a draft."""
    plan = _open_draft(plan.pk)
    plan.greeting, plan.look_again_on = greeting, look_again_on
    plan.save(update_fields=["greeting", "look_again_on"])


def plan_issue(*, plan: Plan, by: Staff, send_email: bool) -> Plan:
    """Issue a draft: its snapshot is fixed for good, the look afterwards is noted, the mail is queued.

    All or nothing. Raises DeskError when the plan is not ready, PermissionDenied without the right.
    """
    check_right(by, Right.ISSUE_PLANS)
    with transaction.atomic():
        _lock(plan.case_id)
        plan = Plan.objects.select_related("case__grower", "ranking__ruleset").get(pk=plan.pk)
        _check_ready(plan)
        plan.issued_at, plan.issued_by = timezone.now(), by
        plan.status = PlanStatus.ISSUED
        plan.snapshot = build_snapshot(plan)
        plan.snapshot_sha256 = snapshot_hash(plan.snapshot)
        plan.save()
        _note_look(plan)
        case = plan.case
        if case.status == CaseStatus.OPEN:
            case.status = CaseStatus.PLANNED
            case.save(update_fields=["status"])
        plan_issued.send(sender=Plan, plan=plan, send_email=send_email, by=by)
    return plan


def snapshot_hash(snapshot: dict[str, Any]) -> str:
    """SHA-256 of the snapshot in canonical JSON."""
    canonical = json.dumps(snapshot, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def plan_revise(*, plan: Plan, by: Staff) -> Plan:
    """The next version of an issued plan, as a draft with the same lines; an existing draft is returned."""
    check_right(by, Right.DRAFT_PLANS)
    with transaction.atomic():
        case = _lock(plan.case_id)
        draft = case.plans.filter(status=PlanStatus.DRAFT).first()
        if draft is not None:
            return draft
        wait = plan.look_again_on - timezone.localdate(plan.issued_at) if plan.look_again_on else None
        draft = Plan.objects.create(
            case=case,
            version=case.plans.count() + 1,
            causes=plan.causes,
            ranking=plan.ranking,
            greeting=plan.greeting,
            look_again_on=timezone.localdate() + wait if wait else None,
            created_by=by,
        )
        for action in plan.actions.all():
            action.pk = None
            action.plan = draft
            action._state.adding = True
            action.save()
    return draft


def follow_up_record(*, follow_up: FollowUp, progress: str, note: str, by: Staff) -> None:
    """Record how the garden was at the look afterwards."""
    check_right(by, Right.EDIT_CASES)
    if progress not in Progress.values:
        raise DeskError(_("Say how the garden is now."))
    follow_up.progress, follow_up.note = progress, note
    follow_up.done_at, follow_up.done_by = timezone.now(), by
    follow_up.save()


def _check_draft(plan: Plan) -> None:
    if not plan.is_draft:
        raise DeskError(_("This plan was issued and never changes. Make the next version instead."))


def _check_ready(plan: Plan) -> None:
    _check_draft(plan)
    kept = list(plan.actions.filter(included=True))
    if not kept:
        raise DeskError(_("The plan has no action yet. Keep at least one."))
    if plan.look_again_on and plan.look_again_on < timezone.localdate():
        raise DeskError(_("The day of the next look has passed. Choose today or a later day."))
    if plan_is_stale(plan):
        raise DeskError(
            _(
                "Something in the case changed since this plan was worked out. Work it out again (lines you "
                "changed are kept), look at it once more, then issue it."
            )
        )
    conflicts = find_conflicts([(action.code, action.opposes) for action in kept if action.code])
    if conflicts:
        texts = {action.code: action.text for action in kept}
        raise DeskError(
            _("These two contradict each other, keep one: “%(first)s” and “%(second)s”.")
            % {"first": texts[conflicts[0].first], "second": texts[conflicts[0].second]}
        )


def plan_is_stale(plan: Plan) -> bool:
    """Whether what the plan was worked out from (garden, findings, readings, habits) has changed since."""
    if plan.ranking is None:
        return True
    now = casefile_from_rows(plan.case).model_dump(mode="json", exclude_none=True)
    then = plan.ranking.inputs
    return any(now.get(part) != then.get(part) for part in _WORKED_OUT_FROM)


def _note_look(plan: Plan) -> None:
    """One open look for a case: a newer plan's date takes the place of an older one not yet done."""
    FollowUp.objects.filter(plan__case=plan.case, done_at__isnull=True).delete()
    if plan.look_again_on:
        FollowUp.objects.create(plan=plan, due_on=plan.look_again_on)
