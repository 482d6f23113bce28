"""The panels of the start page: what waits for somebody today.

Floors above add their own with `register_panel`; each panel asks the database a fixed number of times.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import Truncator
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from consults.choices import CaseStatus, PlanStatus
from consults.looks.states import OVERDUE, looks_waiting, row_of
from consults.models import Case, FollowUp, Plan
from consults.questions.selectors import questions_open

SHOWN = 8


@dataclass(frozen=True)
class PanelRow:
    """One thing that waits: where it is, what it is, a note, a word on how urgent (tag-watch, tag-stop)."""

    url: str
    name: str
    note: str = ""
    tag: str = ""
    tag_class: str = ""


@dataclass(frozen=True)
class Panel:
    """A list on the start page. `empty` says what to do when nothing waits; `more_url` shows all."""

    code: str
    title: str
    rows: tuple[PanelRow, ...]
    total: int
    empty: str
    more_url: str = ""
    empty_action: str = ""
    empty_url: str = ""

    @property
    def left_over(self) -> int:
        return max(0, self.total - len(self.rows))


PanelMaker = Callable[[], Panel]
_registered: list[PanelMaker] = []


def register_panel(make: PanelMaker) -> None:
    """Add a panel after those of this floor. Registering the same one twice adds it once."""
    if make not in _registered:
        _registered.append(make)


def today_panels() -> dict[str, Any]:
    """What the start page shows."""
    own = (looks_panel, questions_panel, cases_panel, drafts_panel)
    return {"panels": [make() for make in (*own, *_registered)]}


def questions_panel() -> Panel:
    found = questions_open()
    rows = found.select_related("grower").order_by("-asked_at", "-pk")[:SHOWN]
    return Panel(
        code="questions",
        title=_("Open questions"),
        rows=tuple(
            PanelRow(
                url=reverse("question", args=[row.pk]),
                name=Truncator(row.words).chars(90),
                note=_joined(str(row.grower) if row.grower else "", _ago(row.asked_at)),
            )
            for row in rows
        ),
        total=found.count(),
        empty=_("Every question is answered. The next one at the counter goes here."),
        more_url=f"{reverse('questions')}?state=open",
        empty_action=_("Log a question"),
        empty_url=reverse("question-new"),
    )


def cases_panel() -> Panel:
    plans = Plan.objects.filter(case=OuterRef("pk"))
    found = Case.objects.filter(~Exists(plans), status=CaseStatus.OPEN)
    rows = found.select_related("grower", "planting").order_by("-opened_at", "-pk")[:SHOWN]
    return Panel(
        code="cases",
        title=_("Cases without a plan"),
        rows=tuple(
            PanelRow(
                url=reverse("case", args=[row.pk]),
                name=f"{row.grower} · {row.planting.crop_name}",
                note=_joined(_ago(row.opened_at), Truncator(row.story).chars(90)),
            )
            for row in rows
        ),
        total=found.count(),
        empty=_("No case waits for a plan. Open one from a grower's page or from a question."),
        more_url=reverse("cases"),
        empty_action=_("Find the grower"),
        empty_url=reverse("growers"),
    )


def drafts_panel() -> Panel:
    found = Plan.objects.filter(status=PlanStatus.DRAFT).exclude(case__status=CaseStatus.CLOSED)
    rows = found.select_related("case__grower", "case__planting").order_by("-created_at", "-pk")[:SHOWN]
    return Panel(
        code="drafts",
        title=_("Plans not issued yet"),
        rows=tuple(
            PanelRow(
                url=reverse("case", args=[row.case_id]),
                name=f"{row.case.grower} · {row.case.planting.crop_name}",
                note=_("begun %(ago)s") % {"ago": _ago(row.created_at)},
            )
            for row in rows
        ),
        total=found.count(),
        empty=_("No plan lies half done. Choose actions in a case to begin one."),
    )


def looks_panel() -> Panel:
    today = timezone.localdate()
    found = looks_waiting()
    rows = found.select_related("plan__case__grower", "plan__case__planting").order_by("due_on", "pk")[:SHOWN]
    following = FollowUp.objects.filter(done_at__isnull=True, due_on__gt=today).order_by("due_on").first()
    return Panel(
        code="looks",
        title=_("Looks due"),
        rows=tuple(_look_row(row, today) for row in rows),
        total=found.count(),
        empty=(
            _("Nobody is to be looked at today. The next look is on %(day)s.")
            % {"day": date_format(following.due_on, "j M Y")}
            if following
            else _("Nobody is to be looked at. An issued plan with a date puts its grower here.")
        ),
        more_url=reverse("follow-ups"),
    )


def _look_row(row: FollowUp, today: date) -> PanelRow:
    case, said = row.plan.case, row_of(row, today)
    contact = case.grower.phone or case.grower.email
    late = (today - row.due_on).days
    return PanelRow(
        url=reverse("follow-up", args=[row.pk]),
        name=f"{case.grower} · {case.planting.crop_name}",
        note=_joined(date_format(row.due_on, "j M Y"), contact),
        tag=_("%(late)s late") % {"late": _days(late)} if said.state == OVERDUE else said.tag,
        tag_class=said.tag_class,
    )


def _days(count: int) -> str:
    day = timezone.now()
    return timesince(day - timedelta(days=count), day, depth=1)


def _ago(moment: Any) -> str:
    if timezone.now() - moment < timedelta(minutes=1):
        return _("just now")
    return _("%(time)s ago") % {"time": timesince(moment, depth=1)}


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)
