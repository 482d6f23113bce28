"""Keeps answers of the bench in a case, and puts them into its plan."""

from collections.abc import Mapping, Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from consults.choices import PlanStatus, When
from consults.errors import DeskError
from consults.models import BenchAnswer, Case, PlanAction
from consults.plans.services import action_add
from garden.access import Right, check_right
from garden.bench.forms import ToolForm
from garden.bench.pages import Page, units_of
from garden.bench.tool import Answer, Refused, Tool, answer_json, work_out
from garden.bench.tools import all_tools
from garden.models import Staff
from garden.wording import Wording


def answer_keep(*, case: Case, tool: str, sent: Mapping[str, str], by: Staff) -> BenchAnswer:
    """Work the answer out anew from what was sent and keep it in the case, in the grower's units.

    Raises DeskError when there is no such question or it cannot be answered from these inputs.
    """
    check_right(by, Right.EDIT_CASES)
    known = all_tools().get(tool)
    if known is None:
        raise DeskError(_("There is no such question on the bench."))
    units = units_of(sent.get("units", ""), None)
    form = ToolForm(known, sent=dict(sent), known={}, system=units)
    page = Page(known, form, units, None)
    if page.answer is None or page.is_example:
        raise DeskError(page.refusal or _("There is no answer yet. Fill in what is missing, then keep it."))
    said = page.answer if units == case.grower.units else _in_units_of(case, known, form)
    return BenchAnswer.objects.create(
        case=case,
        tool=tool,
        question=str(known.question)[:200],
        inputs={name: value for name, value in sent.items() if name in form.fields},
        answer=answer_json(said),
        kept_by=by,
    )


def _in_units_of(case: Case, tool: Tool, form: ToolForm) -> Answer:
    try:
        return work_out(tool, form.values(), Wording(case.grower.units))
    except Refused as refused:
        raise DeskError(str(refused)) from refused


@transaction.atomic
def answer_into_plan(*, answer: BenchAnswer, by: Staff) -> PlanAction:
    """Quote a kept answer in the case's draft, with its working and cautions; once, however often asked."""
    check_right(by, Right.DRAFT_PLANS)
    draft = answer.case.plans.select_for_update().filter(status=PlanStatus.DRAFT).first()
    if draft is None:
        raise DeskError(_("Build the plan of this case first, then put the answer into it."))
    code = f"bench-{answer.pk}"
    there = draft.actions.filter(quantity_code=code).first()
    if there is not None:
        return there
    said = answer.answer
    facts = [f"{label}: {value}" for label, value in said["facts"]]
    quantity = quantity_of(said["headline"], facts)
    return action_add(
        plan=draft,
        when=When.TODAY,
        text=answer.question,
        quantity=quantity,
        quantity_code=code,
        working={
            "title": answer.question,
            "shown": quantity,
            "lines": [said["headline"], *facts, *said["notes"], *said["working"]],
            "source": said["source"],
            "estimate": said["estimate"],
            "needs": "",
        },
        cautions=said["cautions"],
    )


def quantity_of(headline: str, facts: Sequence[str]) -> str:
    """The headline with as many facts after it as a line of a plan holds; cut only between words.

    Whatever does not fit stands in the working, which is printed whole.
    """
    most = PlanAction._meta.get_field("quantity").max_length or 0
    if len(headline) > most:
        return headline[: headline.rfind(" ", 0, most - 1)].rstrip(",;:") + "…"
    line = headline
    for fact in facts:
        if len(line) + len(fact) + 2 > most:
            break
        line = f"{line}; {fact}"
    return line
