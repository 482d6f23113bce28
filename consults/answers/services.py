"""Keeps answers of the bench in a case, and puts them into its plan."""

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from consults.choices import PlanStatus, When
from consults.errors import DeskError
from consults.models import BenchAnswer, Case, PlanAction
from consults.plans.services import action_add
from garden.access import Right, check_right
from garden.bench.forms import ToolForm
from garden.bench.pages import Page, units_of
from garden.bench.tools import all_tools
from garden.models import Staff


def answer_keep(*, case: Case, tool: str, sent: Mapping[str, str], by: Staff) -> BenchAnswer:
    """Work the answer out anew from what was sent and keep it in the case.

    Raises DeskError when there is no such question or it cannot be answered from these inputs.
    """
    check_right(by, Right.EDIT_CASES)
    known = all_tools().get(tool)
    if known is None:
        raise DeskError(_("There is no such question on the bench."))
    units = units_of(sent.get("units", ""), None)
    form = ToolForm(known, sent=dict(sent), known={}, system=units)
    page = Page(known, form, units, None)
    if page.kept is None or page.is_example:
        raise DeskError(page.refusal or _("There is no answer yet. Fill in what is missing, then keep it."))
    return BenchAnswer.objects.create(
        case=case,
        tool=tool,
        question=str(known.question)[:200],
        inputs={name: value for name, value in sent.items() if name in form.fields},
        answer=page.kept,
        kept_by=by,
    )


@transaction.atomic
def answer_into_plan(*, answer: BenchAnswer, by: Staff) -> PlanAction:
    """Quote a kept answer in the case's draft, with its working and cautions."""
    check_right(by, Right.DRAFT_PLANS)
    draft = answer.case.plans.filter(status=PlanStatus.DRAFT).first()
    if draft is None:
        raise DeskError(_("Build the plan of this case first, then put the answer into it."))
    said = answer.answer
    return action_add(
        plan=draft,
        when=When.TODAY,
        text=answer.question,
        quantity=said["headline"][:200],
        quantity_code=f"bench-{answer.pk}",
        working={
            "title": answer.question,
            "shown": said["headline"][:200],
            "lines": said["working"],
            "source": said["source"],
            "estimate": said["estimate"],
            "needs": "",
        },
        cautions=said["cautions"],
    )
