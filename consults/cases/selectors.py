"""Reads for the case pages."""

import datetime
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from consults.cases.describe import crop_name, garden_line, readings_table
from consults.cases.facts import gather
from consults.cases.forms import (
    PARTS,
    PLACES,
    FindingsForm,
    PracticesForm,
    ReadingForm,
    part_of,
    reading_rows,
)
from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.sentences import SaidCause, Speaker, none_name
from consults.choices import CaseStatus, Seen
from consults.diagnosis import NONE_OF_THESE
from consults.models import Case, CasePhoto, Plan
from consults.rules.selectors import ruleset_current
from consults.ruleset.loader import Ruleset
from consults.ruleset.words import propose
from garden.models import Reading
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording

PAGE = 25
CAUSES_SHOWN = 6
FIRST_LOOKS = 6


def case_get(pk: int) -> Case:
    """A case with what its page needs, in a fixed number of queries; 404 when there is none."""
    rows = Case.objects.select_related(
        "grower", "planting__space__garden__grower", "question"
    ).prefetch_related(
        "findings",
        "practices",
        "bench_answers",
        Prefetch("photos", CasePhoto.objects.select_related("photo")),
        Prefetch("plans", Plan.objects.select_related("issued_by", "follow_up").order_by("-version")),
        "planting__space__lamps",
        "planting__space__garden__waters",
        "planting__space__garden__feeds",
    )
    return get_object_or_404(rows, pk=pk)


@dataclass(frozen=True)
class CasePage:
    cases: list[Case]
    after: int | None


def cases_page(*, status: str = "", before: int | None = None) -> CasePage:
    """Cases newest first, optionally of one status, on from the one before."""
    rows: QuerySet[Case] = Case.objects.select_related("grower", "planting").order_by("-pk")
    if status in CaseStatus.values:
        rows = rows.filter(status=status)
    if before is not None:
        rows = rows.filter(pk__lt=before)
    found = list(rows[: PAGE + 1])
    return CasePage(found[:PAGE], found[PAGE - 1].pk if len(found) > PAGE else None)


def cases_of(grower_pk: int) -> list[Case]:
    """The grower's cases, newest first."""
    rows = Case.objects.filter(grower_id=grower_pk).select_related("planting").order_by("-pk")
    return list(rows[:PAGE])


@dataclass(frozen=True)
class Look:
    """A check worth making: the finding, how to look, and the minutes it takes."""

    code: str
    part: str
    name: str
    how: str
    minutes: float


@dataclass(frozen=True)
class Reckoning:
    """What the right margin shows."""

    causes: list[SaidCause]
    more: list[SaidCause]
    looks: list[Look]
    enough: bool
    verdict: str
    seen: int
    urgent: list[SaidCause]
    exact: bool
    error_bound: float


def reckon(case: Case) -> tuple[Reckoning, list[dict[str, Any]]]:
    """The reckoning of a case as it stands, and all readings on their bands, also those not measured."""
    ruleset, reference, language = ruleset_current(), load_reference(), get_language() or "en"
    casefile = casefile_from_rows(case)
    facts, wording = gather(casefile, reference), Wording(case.grower.units)
    ranking = rank_case(casefile, ruleset, reference)
    speaker = Speaker(ruleset, facts, ranking, wording, language)
    said = speaker.all_causes()
    listed = [cause for cause in said if cause.code in ruleset.causes]
    reckoning = Reckoning(
        causes=said[:CAUSES_SHOWN],
        more=said[CAUSES_SHOWN:],
        looks=[_look(ruleset, check.code, language) for check in ranking.checks[:FIRST_LOOKS]],
        enough=ranking.enough,
        verdict=ranking.fit.verdict,
        seen=len(casefile.present) + len(casefile.absent) + len(casefile.readings) + len(casefile.practices),
        urgent=[c for c in listed if c.probability >= 0.1 and (c.urgency >= 3 or c.contagious)][:3],
        exact=ranking.posterior.exact,
        error_bound=ranking.posterior.error_bound,
    )
    return reckoning, readings_table(facts, wording, language, unmeasured=True)


def _look(ruleset: Ruleset, code: str, language: str) -> Look:
    finding = ruleset.findings[code]
    return Look(
        code,
        part_of(finding),
        text(finding.plain, language),
        text(finding.definition, language),
        finding.minutes,
    )


@dataclass(frozen=True)
class Suggestion:
    """A finding that the grower's own words suggest, not recorded yet."""

    code: str
    name: str
    words: str
    present: bool


def suggestions(case: Case) -> list[Suggestion]:
    """What the story suggests beyond what was recorded; staff decide."""
    ruleset, language = ruleset_current(), get_language() or "en"
    recorded = {finding.code for finding in case.findings.all()}
    return [
        Suggestion(each.code, text(ruleset.findings[each.code].plain, language), each.words, each.present)
        for each in propose(case.story, ruleset.findings)
        if each.code not in recorded
    ]


@dataclass(frozen=True)
class Part:
    """One part of the plant on the checklist: what was recorded stands open, the rest is one tap away."""

    code: str
    name: str
    recorded: FindingsForm | None
    rest: FindingsForm | None
    rest_count: int
    seen: int
    looked: int


@dataclass(frozen=True)
class Checklist:
    """`first`: what is worth looking at now. `parts`: everything else, by part of the plant."""

    first: FindingsForm | None
    parts: list[Part]


def checklist(case: Case, first: list[str]) -> Checklist:
    """The findings to tick. `first` are codes worth a look now; each finding stands in one place only."""
    ruleset = ruleset_current()
    states = {
        finding.code: finding.state for finding in case.findings.all() if finding.code in ruleset.findings
    }
    first = [code for code in first if code not in states]

    def form(codes: list[str]) -> FindingsForm | None:
        return findings_form(case, ruleset, codes, states) if codes else None

    parts = []
    for part, name in PARTS.items():
        codes = [c for c, f in ruleset.findings.items() if part_of(f) == part and c not in first]
        recorded = [code for code in codes if code in states]
        rest = [code for code in codes if code not in states]
        if codes:
            seen = sum(states[code] == Seen.PRESENT for code in recorded)
            parts.append(Part(part, str(name), form(recorded), form(rest), len(rest), seen, len(recorded)))
    return Checklist(form(first), parts)


def findings_form(case: Case, ruleset: Ruleset, codes: list[str], states: dict[str, str]) -> FindingsForm:
    """Yes, no or not looked for each of `codes`."""
    language = get_language() or "en"
    return FindingsForm(ruleset=ruleset, codes=codes, states=states, language=language, case=case)


def practices_form(case: Case) -> PracticesForm:
    language = get_language() or "en"
    chosen = [practice.code for practice in case.practices.all()]
    return PracticesForm(ruleset=ruleset_current(), language=language, initial={"codes": chosen})


def reading_forms(case: Case, table: list[dict[str, Any]]) -> list[tuple[str, list[ReadingForm]]]:
    """One small form for each reading, by place, with its strip, what was typed and last time's value."""
    previous = previous_values(case)
    kept: dict[str, Reading] = {}
    for reading in case.readings.all():  # newest first
        kept.setdefault(reading.quantity, reading)
    rows = {row["code"]: {**row, "previous": previous.get(row["code"])} for row in table}
    return [
        (str(PLACES[place]), [reading_form(case, rows[r.code], kept.get(r.code)) for r in readings])
        for place, readings in reading_rows(load_reference()).items()
    ]


def previous_values(case: Case) -> dict[str, float]:
    """The value before the newest one of each quantity of these plants, in the grower's unit. One query."""
    wording, reference = Wording(case.grower.units), load_reference()
    seen: dict[str, int] = {}
    found: dict[str, float] = {}
    for reading in case.planting.readings.all():  # newest first
        seen[reading.quantity] = seen.get(reading.quantity, 0) + 1
        if seen[reading.quantity] == 2 and reading.quantity in reference.readings:
            definition = reference.readings[reading.quantity]
            found[reading.quantity] = wording.reading(reading.value, definition.unit, definition.decimals)[0]
    return found


def reading_form(case: Case, row: dict[str, Any], kept: Reading | None, data: Any = None) -> ReadingForm:
    """The form of one reading; `row` is the reading on its band, `kept` what is recorded in the case."""
    return ReadingForm(
        data,
        reading=load_reference().readings[row["code"]],
        wording=Wording(case.grower.units),
        language=get_language() or "en",
        row=row,
        kept=kept,
        case=case,
    )


def garden_facts(case: Case, table: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """The garden in a few labelled facts, computed ones among them."""
    language, wording, reference = get_language() or "en", Wording(case.grower.units), load_reference()
    casefile = casefile_from_rows(case)
    planting = casefile.planting
    names = [
        text(known[code].name, language)
        for code, known in (
            (planting.stage, reference.stages),
            (planting.system, reference.systems),
            (planting.medium, reference.media),
        )
        if code
    ]
    facts = [(_("Crop"), ", ".join([crop_name(casefile, language), *map(_mid_sentence, names)]))]
    if planting.container_l:
        facts.append((_("Container"), wording.volume(planting.container_l)))
    if planting.plants:
        facts.append((_("Plants"), str(planting.plants)))
    if planting.watering_interval_days:
        every = wording.every(planting.watering_interval_days)
        if planting.watering_volume_l:
            every += ", " + wording.volume(planting.watering_volume_l)
        facts.append((_("Watering"), every))
    facts.append((_("Place"), garden_line(casefile, wording, language)))
    for row in table:
        if row["origin"] in ("computed", "estimated"):
            band = f" ({row['band_shown']})" if row["band_shown"] else ""
            facts.append((row["name"], f"{row['shown']} {row['unit']}{band}"))
    return [(name, value) for name, value in facts if value]


def _mid_sentence(name: str) -> str:
    """A name inside a sentence: "Vegetative growth" loses its capital, "NFT channel" keeps it."""
    return name[:1].lower() + name[1:] if name[1:2].islower() or name[1:2] == " " else name


@dataclass(frozen=True)
class Knot:
    """One thing that happened, on the thread at the left."""

    when: datetime.datetime
    what: str
    url: str = ""


def thread(case: Case) -> list[Knot]:
    """What happened when, oldest first."""
    knots = [Knot(case.opened_at, _("Case opened"))]
    if case.onset_days is not None:
        knots.append(Knot(case.opened_at - datetime.timedelta(days=case.onset_days), _("It began")))
    taken = {timezone.localtime(reading.taken_at).date(): reading.taken_at for reading in case.readings.all()}
    knots += [Knot(moment, _("Readings taken")) for moment in taken.values()]
    knots += [Knot(link.photo.uploaded_at, _("Photo added"), "#photos") for link in case.photos.all()]
    for plan in case.plans.all():
        if plan.issued_at:
            name = _("Plan issued, version %(n)s") % {"n": plan.version}
            knots.append(Knot(plan.issued_at, name, reverse("plan", args=[plan.pk])))
            look = getattr(plan, "follow_up", None)
            if look is not None:
                moment = timezone.make_aware(datetime.datetime.combine(look.due_on, datetime.time(12)))
                knots.append(
                    Knot(look.done_at or moment, _("Looked again") if look.done_at else _("Next look"))
                )
    if case.confirmed_at:
        knots.append(Knot(case.confirmed_at, _("Cause confirmed")))
    return sorted(knots, key=lambda knot: knot.when)


def cause_name(ruleset: Ruleset, code: str, language: str) -> str:
    """The name of a cause; its code when the rules no longer list it."""
    if code == NONE_OF_THESE:
        return none_name()
    cause = ruleset.causes.get(code)
    return text(cause.name, language) if cause else code
