"""The next question of an interview in words."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from consults.cases.casefile import CaseFile
from consults.cases.checks import Step
from consults.cases.describe import readings_table
from consults.cases.facts import gather
from consults.cases.forms import ReadingForm
from consults.cases.interview import Done, Question, next_question
from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.selectors import reading_form
from consults.cases.sentences import SaidCause, Speaker
from consults.interview.memory import Memory
from consults.models import Case
from consults.rules.selectors import ruleset_current
from consults.ruleset.conditions import ONSET
from consults.ruleset.loader import Ruleset
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording


@dataclass(frozen=True)
class Asking:
    """The page of the interview: the next question, or that there is none, and how things stand."""

    asked: int
    leading: SaidCause | None
    question: Question | None = None
    done: Done | None = None
    title: str = ""
    how: str = ""
    why: str = ""
    reading: ReadingForm | None = None

    @property
    def kind(self) -> str:
        """finding, practice, reading or onset; empty at the end."""
        if self.question is None:
            return ""
        return "onset" if self.question.step.code == ONSET else self.question.step.kind


def asking(case: Case, memory: Memory, data: Any = None) -> Asking:
    """Return what to ask next. `data`: what was posted for a reading, to be shown again with its fault."""
    ruleset, reference = ruleset_current(), load_reference()
    casefile = casefile_from_rows(case)
    following = next_question(casefile, ruleset, reference, memory.unanswered)
    asked, leading = len(memory.asked), _leading(case, casefile, ruleset)
    if isinstance(following, Done):
        return Asking(asked, leading, done=following)
    step = following.step
    title, how = _words(step, ruleset)
    form = _reading(case, casefile, step, data) if step.kind == "reading" and step.code != ONSET else None
    return Asking(
        asked, leading, question=following, title=title, how=how, why=_why(step, ruleset), reading=form
    )


def _leading(case: Case, casefile: CaseFile, ruleset: Ruleset) -> SaidCause | None:
    """The first cause as things stand; None while nothing is known."""
    if not (casefile.present or casefile.absent or casefile.readings or casefile.practices):
        return None
    reference = load_reference()
    ranking = rank_case(casefile, ruleset, reference)
    speaker = Speaker(
        ruleset, gather(casefile, reference), ranking, Wording(case.grower.units), get_language() or "en"
    )
    return speaker.cause(ranking.causes[0])


def _words(step: Step, ruleset: Ruleset) -> tuple[str, str]:
    language = get_language() or "en"
    if step.kind == "finding":
        finding = ruleset.findings[step.code]
        return text(finding.plain, language), text(finding.definition, language)
    if step.kind == "practice":
        practice = ruleset.practices[step.code]
        return text(practice.name, language), text(practice.definition, language)
    if step.code == ONSET:
        return _("How many days ago did it begin?"), _("As near as the grower can say.")
    reading = load_reference().readings[step.code]
    return text(reading.name, language), ""


def _why(step: Step, ruleset: Ruleset) -> str:
    if step.protects:
        name = text(ruleset.causes[step.protects].name, get_language() or "en")
        return _("Asked first because it spreads to other plants: %(cause)s.") % {"cause": name}
    if step.changes >= 0.5:
        return _("The answer is more likely than not to change what to do.")
    return _("Of all questions left this one settles most for the minutes it takes.")


def _reading(case: Case, casefile: CaseFile, step: Step, data: Any) -> ReadingForm:
    wording, language = Wording(case.grower.units), get_language() or "en"
    table = readings_table(gather(casefile, load_reference()), wording, language, unmeasured=True)
    row = next(row for row in table if row["code"] == step.code)
    return reading_form(case, row, None, data)
