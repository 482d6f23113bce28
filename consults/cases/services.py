"""Writes about cases: opening one, what was seen, measured and told, and what it turned out to be."""

import datetime
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.cases.casefile import reading_problem
from consults.cases.ranking import rank_case, ranking_json
from consults.cases.rows import casefile_from_rows
from consults.choices import CaseStatus, Confirmed, Seen
from consults.errors import DeskError
from consults.models import Case, CaseFinding, CasePhoto, CasePractice, FollowUp, Question, Ranking
from consults.rules.selectors import ruleset_current
from consults.rules.services import ruleset_row
from garden.access import Right, check_right
from garden.models import Grower, Photo, Planting, Reading, Staff
from garden.reference.loader import load_reference

CORRECTION = datetime.timedelta(hours=3)  # a reading entered again within it corrects the first; judgement


@transaction.atomic
def case_open(
    *, grower: Grower, planting: Planting, by: Staff | None, story: str = "", question: Question | None = None
) -> Case:
    """Open a case for a planting; a question it grew out of lends its words and is linked.

    A question becomes one case: asked again, that case is returned.
    """
    if planting.space.garden.grower_id != grower.pk:
        raise DeskError(_("This planting belongs to another grower."))
    if question is not None:
        question = Question.objects.select_for_update().get(pk=question.pk)
        if question.grower_id not in (None, grower.pk):
            raise DeskError(_("This question was asked by another grower."))
        known = Case.objects.filter(question=question).first()
        if known is not None:
            return known
        question.grower = grower
        question.save(update_fields=["grower"])
    return Case.objects.create(
        grower=grower,
        planting=planting,
        question=question,
        story=story or (question.words if question else ""),
        opened_by=by,
    )


def case_tell(*, case: Case, story: str, onset_days: int | None, notes: str) -> None:
    """Keep what the grower told and what we noted."""
    case.story, case.onset_days, case.notes = story, onset_days, notes
    case.save(update_fields=["story", "onset_days", "notes"])


def finding_record(*, case: Case, code: str, state: str) -> None:
    """Record a finding as present or absent; an empty state takes it back to "not looked at"."""
    if code not in ruleset_current().findings:
        raise DeskError(_("This finding is not in the list any more. Reload the page."))
    if state not in Seen.values:
        CaseFinding.objects.filter(case=case, code=code).delete()
        return
    CaseFinding.objects.update_or_create(case=case, code=code, defaults={"state": state})


def practices_record(*, case: Case, codes: Iterable[str]) -> None:
    """Make these the practices of the case."""
    wanted = set(codes) & set(ruleset_current().practices)
    with transaction.atomic():
        case.practices.exclude(code__in=wanted).delete()
        had = set(case.practices.values_list("code", flat=True))
        CasePractice.objects.bulk_create(
            [CasePractice(case=case, code=code) for code in sorted(wanted - had)], ignore_conflicts=True
        )


def practice_report(*, case: Case, code: str) -> None:
    """Add one practice to those of the case."""
    if code not in ruleset_current().practices:
        raise DeskError(_("This habit is not in the list any more. Reload the page."))
    CasePractice.objects.get_or_create(case=case, code=code)


@transaction.atomic
def reading_record(
    *, case: Case, quantity: str, value: float, typed: str, unit: str, by: Staff | None
) -> Reading:
    """Record a reading, value in the stored unit.

    One of the same quantity taken in this case within the last hours is a slip of the pen and replaced; an
    older one stays on record as it was. Raises DeskError when the value is physically impossible; an unusual
    one is kept and marked.
    """
    reference = load_reference()
    problem = reading_problem(quantity, value, reference)
    if problem:
        raise DeskError(problem)
    definition = reference.readings[quantity]
    _take_back(case, quantity)
    reading = Reading.objects.create(
        planting=case.planting,
        quantity=quantity,
        value=value,
        typed=typed[:40],
        unit=unit[:20],
        unusual=not definition.usual_min <= value <= definition.usual_max,
        entered_by=by,
    )
    case.readings.add(reading)
    return reading


def reading_forget(*, case: Case, quantity: str) -> None:
    """Take a quantity out of the case. What was entered in the last hours goes altogether; older readings
    stay on the planting's record."""
    _take_back(case, quantity)
    case.readings.remove(*case.readings.filter(quantity=quantity))


def _take_back(case: Case, quantity: str) -> None:
    for reading in case.readings.filter(quantity=quantity, taken_at__gt=timezone.now() - CORRECTION):
        case.readings.remove(reading)
        if not reading.cases.exists():
            reading.delete()


def photo_attach(*, case: Case, photo: Photo) -> None:
    """Tie a photo to the case."""
    CasePhoto.objects.get_or_create(case=case, photo=photo)


@transaction.atomic
def ranking_store(*, case: Case, by: Staff | None) -> Ranking:
    """Reckon the case now and keep inputs, result and the version of the rules."""
    ruleset, reference = ruleset_current(), load_reference()
    casefile = casefile_from_rows(case)
    result = ranking_json(rank_case(casefile, ruleset, reference), ruleset)
    return Ranking.objects.create(
        case=case,
        ruleset=ruleset_row(ruleset),
        inputs=casefile.model_dump(mode="json", exclude_none=True),
        result=result,
        created_by=by,
    )


def case_confirm(*, case: Case, cause: str, how: str, by: Staff) -> None:
    """Record what it turned out to be and close the case; "none-of-these" is an answer too.

    A look not done yet is dropped with it. Raises when not allowed.
    """
    check_right(by, Right.CONFIRM_CAUSES)
    if how not in Confirmed.values:
        raise DeskError(_("Say how the cause was confirmed."))
    case.confirmed_cause, case.confirmed_how = cause, how
    case.confirmed_by, case.confirmed_at = by, timezone.now()
    case.status = CaseStatus.CLOSED
    with transaction.atomic():
        case.save(
            update_fields=["confirmed_cause", "confirmed_how", "confirmed_by", "confirmed_at", "status"]
        )
        FollowUp.objects.filter(plan__case=case, done_at__isnull=True).delete()


def case_reopen(*, case: Case, by: Staff) -> None:
    """Open a closed case again; the confirmation is taken back, its history stays."""
    check_right(by, Right.CONFIRM_CAUSES)
    case.confirmed_cause = case.confirmed_how = ""
    case.confirmed_by = case.confirmed_at = None
    case.status = CaseStatus.PLANNED if case.plans.filter(status="issued").exists() else CaseStatus.OPEN
    case.save(update_fields=["confirmed_cause", "confirmed_how", "confirmed_by", "confirmed_at", "status"])
