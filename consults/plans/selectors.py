"""Reads for the plan pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils.translation import get_language

from consults.choices import When
from consults.models import Plan, PlanAction
from consults.plans.building import find_conflicts
from consults.plans.forms import ActionForm
from consults.plans.snapshot import caution_texts
from consults.rules.selectors import ruleset_current
from consults.ruleset.schema import Caution


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
    forms = [form for form in _forms(plan) if form.instance.included]
    return [
        ActionGroup(str(when.label), [form for form in forms if form.instance.when == when]) for when in When
    ]


def left_out_forms(plan: Plan) -> list[ActionForm]:
    """The lines of a draft that are not ticked."""
    return [form for form in _forms(plan) if not form.instance.included]


def _forms(plan: Plan) -> list[ActionForm]:
    known, actions = ruleset_current().cautions, list(plan.actions.all())
    texts = {action.code: action.text for action in actions if action.code}
    return [action_form(action, known=known, waits_for=texts.get(action.waits_for, "")) for action in actions]


def action_form(
    action: PlanAction, data: Any = None, *, known: Mapping[str, Caution] | None = None, waits_for: str = ""
) -> ActionForm:
    """The form of one line, with its cautions in words; `known` are the cautions of the rules in force."""
    known, language = known or ruleset_current().cautions, get_language() or "en"
    cautions = caution_texts(action.cautions, known, language)
    return ActionForm(data, instance=action, prefix=f"a{action.pk}", cautions=cautions, waits_for=waits_for)


@dataclass(frozen=True)
class Contradiction:
    """Two lines that contradict each other. `open`: both are kept, and nothing is issued until one goes."""

    first: PlanAction
    second: PlanAction

    @property
    def open(self) -> bool:
        return self.first.included and self.second.included

    @property
    def both(self) -> tuple[PlanAction, PlanAction]:
        return self.first, self.second

    @property
    def kept(self) -> PlanAction:
        return self.first if self.first.included else self.second

    @property
    def left_out(self) -> PlanAction:
        return self.second if self.first.included else self.first


def plan_conflicts(plan: Plan) -> list[Contradiction]:
    """Pairs of lines that contradict each other and are in the plan, one or both; open ones first."""
    lines = {action.code: action for action in plan.actions.all() if action.code}
    pairs = find_conflicts([(code, action.opposes) for code, action in lines.items()])
    found = [Contradiction(lines[pair.first], lines[pair.second]) for pair in pairs]
    return sorted(
        (pair for pair in found if pair.first.included or pair.second.included),
        key=lambda pair: not pair.open,
    )
