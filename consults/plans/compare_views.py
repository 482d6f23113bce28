"""A version of a plan beside an earlier one."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from consults.cases.describe import spoken_date
from consults.cases.selectors import cause_name
from consults.choices import When
from consults.models import Plan
from consults.plans.comparing import Change, Piece, PlanLine, compare_lines, word_pieces
from consults.plans.selectors import plan_get
from consults.rules.selectors import ruleset_current
from garden.access import Right, check_right


@dataclass(frozen=True)
class Part:
    """A part of a line in pieces, with its name; `when` is said in words."""

    name: str
    css: str
    pieces: tuple[Piece, ...]


@require_safe
def plan_compare(request: HttpRequest, pk: int) -> HttpResponse:
    """What this version adds, removes and changes against an earlier one, the one before if none is named."""
    plan = plan_get(pk)
    if plan.is_draft:
        check_right(request.user, Right.DRAFT_PLANS)
    earlier = list(
        plan.case.plans.filter(version__lt=plan.version).prefetch_related("actions").order_by("-version")
    )
    if not earlier:
        messages.info(request, _("This is the first version; there is nothing to compare it with."))
        return redirect("plan", pk=pk)
    asked = request.GET.get("with", "")
    before = next((other for other in earlier if str(other.version) == asked), earlier[0])
    changes = compare_lines(_lines(before), _lines(plan))
    return render(request, "plans/compare.html", _context(plan, before, earlier, changes))


def _context(plan: Plan, before: Plan, earlier: list[Plan], changes: list[Change]) -> dict[str, Any]:
    return {
        "plan": plan,
        "case": plan.case,
        "before": before,
        "others": [other for other in earlier if other.pk != before.pk],
        "changes": [(change, _parts(change)) for change in changes if change.kind != "same"],
        "same": [change.new for change in changes if change.kind == "same" and change.new],
        "head": [part for part in _head(before, plan) if any(piece.kind != "same" for piece in part.pieces)],
    }


def _lines(plan: Plan) -> list[PlanLine]:
    order = list(When.values)
    kept = sorted(
        (action for action in plan.actions.all() if action.included), key=lambda a: order.index(a.when)
    )
    return [
        PlanLine(
            action.code,
            str(When(action.when).label),
            action.text,
            action.quantity,
            action.worked_when,
            action.stop_when,
        )
        for action in kept
    ]


def _parts(change: Change) -> list[Part]:
    names = {
        "when": _("When"),
        "text": _("What to do"),
        "quantity": _("How much"),
        "worked": _("It worked if"),
        "stop": _("Stop and call"),
    }
    return [
        Part(names[name], name, pieces)
        for name, pieces in change.parts.items()
        if pieces and (name in ("when", "text", "quantity") or any(piece.kind != "same" for piece in pieces))
    ]


def _head(before: Plan, plan: Plan) -> list[Part]:
    ruleset, language = ruleset_current(), get_language() or "en"

    def causes(version: Plan) -> str:
        return ", ".join(cause_name(ruleset, code, language) for code in version.causes)

    def look(version: Plan) -> str:
        return spoken_date(version.look_again_on) if version.look_again_on else ""

    return [
        Part(_("For"), "causes", word_pieces(causes(before), causes(plan))),
        Part(_("Opening words"), "greeting", word_pieces(before.greeting, plan.greeting)),
        Part(_("Next look"), "look", word_pieces(look(before), look(plan))),
    ]
