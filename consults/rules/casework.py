"""One case and the rules it was ranked by, beside those in force; and ranking it again by these."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.sentences import WORDS, chance, none_name
from consults.cases.services import ranking_store
from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.fit import word
from consults.models import Case, Ranking
from consults.rules.selectors import ruleset_current
from consults.ruleset.loader import Ruleset
from garden.access import Right, check_right, right_required, staff_of
from garden.models import Staff
from garden.reference.loader import load_reference, text

_SHOWN = 5


def case_rank_again(*, case: Case, by: Staff) -> Ranking:
    """Keep a reckoning of the case by the rules in force; those kept before stay. Raises PermissionDenied."""
    check_right(by, Right.EDIT_CASES)
    return ranking_store(case=case, by=by)


@dataclass(frozen=True)
class Compared:
    """One cause in the reckoning that was kept and in one made now, in words; "" where it is not listed."""

    name: str
    kept: str
    now: str


@dataclass(frozen=True)
class CaseRules:
    """The newest kept reckoning of a case, and the rules in force."""

    version: str
    kept_at: datetime
    kept_by: Staff | None
    in_force: str
    first: str

    @property
    def differ(self) -> bool:
        return self.version != self.in_force


def case_rules(pk: int) -> CaseRules | None:
    """By which rules the case was ranked last, or None when no reckoning of it was kept. Two queries."""
    kept = _newest(pk)
    if kept is None:
        return None
    causes = kept.result.get("causes") or [{"name": ""}]
    return CaseRules(
        kept.ruleset.version, kept.created_at, kept.created_by, ruleset_current().version, causes[0]["name"]
    )


def _newest(pk: int) -> Ranking | None:
    rows = Ranking.objects.filter(case_id=pk).select_related("ruleset", "created_by")
    return rows.defer("ruleset__content", "inputs").order_by("-pk").first()


def compared(case: Case, kept: Ranking) -> list[Compared]:
    """The first causes of both reckonings side by side, in the order of the one made now."""
    ruleset, language = ruleset_current(), get_language() or "en"
    ranking = rank_case(casefile_from_rows(case), ruleset, load_reference())
    now = {cause.code: cause.probability for cause in ranking.causes}
    old: dict[str, Any] = {
        ruleset.cause_code(cause["code"]) or cause["code"]: cause for cause in kept.result["causes"]
    }
    codes = dict.fromkeys([*list(now)[:_SHOWN], *list(old)[:_SHOWN]])
    return [
        Compared(
            name=_name(ruleset, code, old.get(code), language),
            kept=_said(old[code]["probability"]) if code in old else "",
            now=_said(now[code]) if code in now else "",
        )
        for code in codes
    ]


def _name(ruleset: Ruleset, code: str, old: dict[str, Any] | None, language: str) -> str:
    if code == NONE_OF_THESE:
        return none_name()
    cause = ruleset.causes.get(code)
    return text(cause.name, language) if cause else str(old["name"]) if old else code


def _said(probability: float) -> str:
    return f"{WORDS[word(probability)]}, {chance(probability)}"


@require_safe
def case_rules_line(request: HttpRequest, pk: int) -> HttpResponse:
    """The line on the case page that says by which rules it was ranked."""
    return render(request, "rules/_case_version_line.html", {"pk": pk, "rules": case_rules(pk)})


@require_safe
def case_rules_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The reckoning that was kept beside one by the rules in force."""
    case = get_object_or_404(Case.objects.select_related("grower", "planting__space__garden"), pk=pk)
    kept = _newest(pk)
    context = {
        "case": case,
        "rules": case_rules(pk),
        "causes": compared(case, kept) if kept else [],
        "in_force": ruleset_current().version,
    }
    return render(request, "rules/case_rules.html", context)


@require_POST
@right_required(Right.EDIT_CASES)
def case_rank_again_view(request: HttpRequest, pk: int) -> HttpResponse:
    case = get_object_or_404(Case, pk=pk)
    kept = case_rank_again(case=case, by=staff_of(request))
    said = _("The case is ranked by version %(version)s. Plans issued before keep what they were made with.")
    messages.success(request, said % {"version": kept.ruleset.version})
    return redirect("case-rules", pk=pk)
