"""Reads for the plan pages and the looks due."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils.translation import get_language

from consults.choices import When
from consults.models import FollowUp, Plan, PlanAction
from consults.plans.building import find_conflicts
from consults.plans.forms import ActionForm
from consults.plans.snapshot import caution_texts
from consults.rules.selectors import ruleset_current
from consults.ruleset.schema import Caution

PAGE = 200


def plan_get(pk: int) -> Plan:
    """A plan with its case, grower and actions; 404 when there is none."""
    rows = Plan.objects.select_related("case__grower", "case__planting", "issued_by", "created_by")
    return get_object_or_404(rows.prefetch_related("actions"), pk=pk)


@dataclass(frozen=True)
class ActionGroup:
    name: str
    forms: list[ActionForm]


def action_groups(plan: Plan) -> list[ActionGroup]:
    """The ticked lines of a draft as small forms, by when they are done."""
    actions, known = [a for a in plan.actions.all() if a.included], ruleset_current().cautions
    return [
        ActionGroup(
            str(when.label), [action_form(action, known=known) for action in actions if action.when == when]
        )
        for when in When
    ]


def left_out_forms(plan: Plan) -> list[ActionForm]:
    """The lines of a draft that are not ticked."""
    known = ruleset_current().cautions
    return [action_form(action, known=known) for action in plan.actions.all() if not action.included]


def action_form(
    action: PlanAction, data: Any = None, *, known: Mapping[str, Caution] | None = None
) -> ActionForm:
    """The form of one line, with its cautions in words; `known` are the cautions of the rules in force."""
    known, language = known or ruleset_current().cautions, get_language() or "en"
    cautions = caution_texts(action.cautions, known, language)
    return ActionForm(data, instance=action, prefix=f"a{action.pk}", cautions=cautions)


def plan_conflicts(plan: Plan) -> list[tuple[PlanAction, PlanAction]]:
    """Pairs of kept lines that contradict each other."""
    kept = {action.code: action for action in plan.actions.all() if action.included and action.code}
    pairs = find_conflicts([(code, action.opposes) for code, action in kept.items()])
    return [(kept[pair.first], kept[pair.second]) for pair in pairs]


def looks_open() -> list[FollowUp]:
    """Looks not done yet, the most overdue first."""
    rows = FollowUp.objects.filter(done_at__isnull=True).select_related(
        "plan__case__grower", "plan__case__planting"
    )
    return list(rows.order_by("due_on", "pk")[:PAGE])


def looks_done() -> list[FollowUp]:
    """The last looks done."""
    rows = FollowUp.objects.filter(done_at__isnull=False).select_related(
        "plan__case__grower", "plan__case__planting"
    )
    return list(rows.order_by("-done_at")[:10])
