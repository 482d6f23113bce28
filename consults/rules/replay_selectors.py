"""Reads about replays: how far one is, and what it found, in words."""

import datetime
from dataclasses import dataclass

from django.db.models import Count, F, Q, QuerySet, Sum
from django.shortcuts import get_object_or_404
from django.utils import formats, timezone
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from consults.cases.sentences import WORDS, chance, none_name
from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.fit import word
from consults.models.rules import ReplayChange, ReplayChunk, RulesReplay
from consults.rules.selectors import ruleset_by_version
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset
from garden.reference.loader import name_of_crop, text

PAGE = 25
KINDS = {
    "lost": Q(agreed_before=True, agreed_after=False),
    "gained": Q(agreed_before=False, agreed_after=True),
    "first": ~Q(before_cause=F("after_cause")),
}


def replays() -> QuerySet[RulesReplay]:
    """Replays, newest first, without the long content of their versions."""
    rows = RulesReplay.objects.select_related("before", "after", "started_by")
    return rows.defer("before__content", "after__content")


def replay_get(pk: int) -> RulesReplay:
    return get_object_or_404(replays(), pk=pk)


def replay_of_draft(ruleset: Ruleset | None) -> RulesReplay | None:
    """The newest replay of exactly these rules, or None."""
    return replays().filter(after__version=ruleset.version).first() if ruleset else None


@dataclass(frozen=True)
class Progress:
    """How far a replay is, and what it came to so far. Counts of cases."""

    done: int
    total: int
    same: int
    slight: int
    changed: int
    unreadable: int
    confirmed: int
    agreed_before: int
    agreed_after: int
    left: datetime.timedelta | None

    @property
    def said(self) -> dict[str, str]:
        """The counts as people read them: "41,200"."""
        names = ("done", "total", "same", "slight", "changed", "unreadable", "confirmed")
        return {name: grouped(getattr(self, name)) for name in (*names, "agreed_before", "agreed_after")}

    @property
    def left_said(self) -> str:
        """ "about 3 minutes more", or nothing."""
        if self.left is None:
            return ""
        minutes = round(self.left.total_seconds() / 60)
        return (
            ngettext("about %(n)d minute more", "about %(n)d minutes more", minutes) % {"n": minutes}
            if minutes
            else _("less than a minute more")
        )


def grouped(number: int) -> str:
    """A count with its thousands apart."""
    return formats.number_format(number, use_l10n=True, force_grouping=True)


def progress(replay: RulesReplay) -> Progress:
    """How far a replay is. One query."""
    names = ("same", "slight", "changed", "unreadable", "confirmed", "agreed_before", "agreed_after")
    counted = ReplayChunk.objects.filter(replay=replay, result__isnull=False)
    found = counted.aggregate(
        done=Sum("cases", default=0), **{name: Sum(f"result__{name}", default=0) for name in names}
    )
    return Progress(total=replay.total, left=_left(replay, found["done"]), **found)


def _left(replay: RulesReplay, done: int) -> datetime.timedelta | None:
    """How long it will still take if it goes on as so far; None before that can be told."""
    since = (timezone.now() - replay.started_at).total_seconds()
    if not replay.is_running or done * 50 < replay.total or since < 3:
        return None
    return datetime.timedelta(seconds=round(since * (replay.total - done) / done))


def changes_by_kind(replay: RulesReplay) -> dict[str, int]:
    """How many changed rankings are of each kind. One query."""
    found = ReplayChange.objects.filter(replay=replay).aggregate(
        **{kind: Count("pk", filter=wanted) for kind, wanted in KINDS.items()}
    )
    return dict(found)


@dataclass(frozen=True)
class SaidMove:
    """One cause whose probability moves, in words."""

    name: str
    before: str
    after: str


@dataclass(frozen=True)
class SaidChange:
    """One changed ranking in words."""

    case_pk: int | None
    title: str
    before: str
    before_chance: str
    after: str
    after_chance: str
    same_first: bool
    moves: tuple[SaidMove, ...]
    confirmed: str
    agreement: str


@dataclass(frozen=True)
class ChangePage:
    """One page of changed rankings, counted from 1."""

    changes: list[SaidChange]
    number: int
    more: bool

    @property
    def before(self) -> int:
        return self.number - 1

    @property
    def after(self) -> int:
        return self.number + 1


def changes_page(replay: RulesReplay, *, kind: str = "", number: int = 1) -> ChangePage:
    """Changed rankings, those that matter most first. Two queries."""
    rows = ReplayChange.objects.filter(KINDS.get(kind, Q()), replay=replay)
    rows = rows.select_related("case__grower", "case__planting").defer("case__story", "case__notes")
    start = (number - 1) * PAGE
    found = list(rows[start : start + PAGE + 1])
    speaker = _Speaker.of(replay)
    return ChangePage([speaker.change(row) for row in found[:PAGE]], number, len(found) > PAGE)


@dataclass(frozen=True)
class _Speaker:
    rulesets: tuple[Ruleset, ...]
    language: str

    @classmethod
    def of(cls, replay: RulesReplay) -> "_Speaker":
        found = []
        for row in (replay.after, replay.before):
            try:
                found.append(ruleset_by_version(row.version))
            except RulesetError:  # a newer program no longer reads them: codes will do
                continue
        return cls(tuple(found), get_language() or "en")

    def cause(self, code: str) -> str:
        if code == NONE_OF_THESE:
            return none_name()
        for ruleset in self.rulesets:
            present = ruleset.cause_code(code)
            if present:
                return text(ruleset.causes[present].name, self.language)
        return code

    def change(self, row: ReplayChange) -> SaidChange:
        return SaidChange(
            case_pk=row.case_id,
            title=self._title(row),
            before=self.cause(row.before_cause),
            before_chance=_said(row.before_chance),
            after=self.cause(row.after_cause),
            after_chance=_said(row.after_chance),
            same_first=row.before_cause == row.after_cause,
            moves=tuple(
                SaidMove(self.cause(code), _said(old), _said(new))
                for code, old, new in row.moves
                if code not in (row.before_cause, row.after_cause)
                and (round(old, 2), round(new, 2)) != (0, 0)
                and _said(old) != _said(new)
            ),
            confirmed=", ".join(self.cause(code) for code in row.confirmed.split(",") if code),
            agreement=_agreement(row),
        )

    def _title(self, row: ReplayChange) -> str:
        if row.case is None:
            return row.file.removesuffix(".json").replace("-", " ").capitalize()
        crop = name_of_crop(row.case.planting.crop, self.language)
        return f"{row.case.grower.name}, {crop}"


def _said(probability: float) -> str:
    return f"{WORDS[word(probability)]}, {chance(probability)}"


def _agreement(row: ReplayChange) -> str:
    if row.agreed_after is None:
        return ""
    if row.agreed_before and not row.agreed_after:
        return "lost"
    if row.agreed_after and not row.agreed_before:
        return "gained"
    return "kept" if row.agreed_after else "neither"
