"""Erasing a grower: who it was goes, what happened to the plants stays."""

import logging
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import Case, Erasure
from garden.access import Right, check_right
from garden.models import Grower, Staff
from reports.keeping.belongings import Belonging, belongings
from reports.keeping.files import (
    files_of,
    forget_freed_space,
    overwrite_freed_space,
    remove_files,
    remove_mails,
)
from reports.keeping.identity import Identity, identity_of
from reports.keeping.sweep import clean_sessions, mentions, particular, sweep
from reports.models import Work

log = logging.getLogger("desk.keeping")


class ErasureRefusedError(DeskError):
    """Not now, or not so; the message says why."""


@dataclass(frozen=True)
class Line:
    """One kind of row of a grower: how many there are, what goes of them, what stays."""

    label: str
    name: str
    rows: int
    history: int
    goes: str
    stays: str
    rows_go: bool


@dataclass(frozen=True)
class Forecast:
    """What erasing would do, counted now."""

    lines: tuple[Line, ...]
    files: int
    elsewhere: int

    @property
    def goes(self) -> list[Line]:
        return [line for line in self.lines if line.goes]

    @property
    def stays(self) -> list[Line]:
        return [line for line in self.lines if line.stays]


def forecast(grower: Grower) -> Forecast:
    """What `grower_erase` would take and leave. Reads everything, changes nothing."""
    shares = list(belongings(grower.pk))
    lines = [_line(share) for share in shares]
    own = _keys(shares)
    who = particular(grower.pk, identity_of([grower.pk]))
    elsewhere = sum((model, pk) not in own for model, pk, _changed in mentions(who))
    return Forecast(
        lines=tuple(line for line in lines if line.rows or line.history),
        files=len([name for share in shares for name in files_of(share)]),
        elsewhere=elsewhere,
    )


def _keys(shares: list[Belonging]) -> set[tuple[Any, Any]]:
    """(model, key) of every row and history row of these shares."""
    found: set[tuple[Any, Any]] = set()
    for share in shares:
        found |= {(share.model, key) for key in share.keys}
        if share.history is not None:
            found |= {(share.history.model, key) for key in share.history_keys}
    return found


def _line(share: Belonging) -> Line:
    meta = share.model._meta
    return Line(
        label=meta.label,
        name=str(share.held.name),
        rows=len(share.keys),
        history=len(share.history_keys),
        goes=str(share.held.goes),
        stays=str(share.held.stays),
        rows_go=share.held.rows_go,
    )


def in_hand(shares: list[Belonging]) -> bool:
    """Whether somebody renders or sends something of these rows right now."""
    works = [share.rows for share in shares if issubclass(share.model, Work)]
    return any(row.is_in_hand for rows in works for row in rows)


def grower_erase(*, grower: Grower, by: Staff | None, now: datetime | None = None) -> Erasure:
    """Erase who a grower was, for good. Repeated, it erases what has come since, and keeps the first record.

    Raises ErasureRefusedError while a plan of theirs is being rendered or sent, PermissionDenied without the
    right. `by` None is the command line. The files go once the change of the rows is certain; what could not
    be removed then is removed when this is called again.
    """
    if by is not None:
        check_right(by, Right.KEEP_RECORDS)
    overwrite_freed_space()
    with transaction.atomic():
        record = _erase_rows(grower.pk, by, now or timezone.now())
        transaction.on_commit(lambda: _afterwards(record))
    return record


def _erase_rows(pk: int, by: Staff | None, now: datetime) -> Erasure:
    Grower.objects.select_for_update().get(pk=pk)
    # Whoever issues or drafts a plan waits for the row of its case.
    list(Case.objects.select_for_update().filter(grower=pk).order_by("pk").values_list("pk"))
    shares = list(belongings(pk))
    _lock_work(shares)
    if in_hand(shares):
        raise ErasureRefusedError(
            _("A plan of this grower is being made or sent right now. Wait a minute, then try again.")
        )
    who = identity_of([pk])
    among_others = particular(pk, who)
    record, _new = Erasure.objects.get_or_create(grower_id=pk, defaults={"erased_at": now, "erased_by": by})
    record.is_open = True
    record.files = sorted({*record.files, *(name for share in shares for name in files_of(share))})
    record.save()
    counts = Counter(record.counts)
    mails = {mail for share in shares if share.model._meta.label == "reports.Message"
             for mail in share.rows.values_list("message_id", flat=True)}  # fmt: skip
    _remove_unmade(shares)
    for share in reversed(shares):
        counts.update(_erase_share(share, who))
    swept, left = sweep(among_others)
    counts.update({"mentions elsewhere, taken out": swept.total()})
    counts.update({"sessions cleaned": clean_sessions(who)})
    counts["mentions in issued plans of others, left"] = left.total()
    record.counts = {name: count for name, count in sorted(counts.items()) if count}
    record.is_open = False
    record.save()
    transaction.on_commit(lambda: remove_mails(mails, who))
    log.info("Grower %s was erased by %s.", pk, by.pk if by else "the command line")
    return record


def _lock_work(shares: list[Belonging]) -> None:
    """Nobody takes a message or document in hand until we are done; whoever wants to, waits."""
    for share in shares:
        if issubclass(share.model, Work):
            list(share.rows.select_for_update().order_by("pk").values_list("pk"))


def _remove_unmade(shares: list[Belonging]) -> None:
    """A document that was never made has nothing to keep, and must not be made any more."""
    for share in shares:
        if share.model._meta.label == "reports.Document":
            share.rows.exclude(state="ready").delete()


def _erase_share(share: Belonging, who: Identity) -> Counter[str]:
    label = share.model._meta.label
    counts: Counter[str] = Counter()
    if share.held.rows_go:
        counts[f"{label} rows removed"] = share.rows.count()
        share.rows.delete()
        if share.history is not None:
            share.history.delete()
        return counts
    counts[f"{label} rows emptied"] = _empty_rows(share, share.rows, who)
    if share.history is not None:
        counts[f"{label} history rows emptied"] = _empty_rows(share, share.history, who)
    return counts


def _empty_rows(share: Belonging, rows: "models.QuerySet[Any]", who: Identity) -> int:
    """Row by row: the columns that change, by the fates of the table. Counts the rows that changed."""
    changed_rows = 0
    own = {field.attname for field in rows.model._meta.concrete_fields}
    for row in list(rows):  # one grower's: few, and changed while we go through them
        changes = {}
        for name, fate in share.held.columns.items():
            column = name if name in own else f"{name}_id"
            if column in own:
                value = getattr(row, column)
                after = fate(value, row, who)
                if after != value:
                    changes[column] = after
        if getattr(row, "history_change_reason", None):
            changes["history_change_reason"] = None
        if changes:
            changed_rows += rows.model._base_manager.filter(pk=row.pk).update(**changes)
    return changed_rows


def _afterwards(record: Erasure) -> None:
    left = remove_files(record.files)
    Erasure.objects.filter(pk=record.pk).update(files=left)
    record.files = left
    if left:
        log.error("Files of an erased grower could not be removed: %s. Erase again.", ", ".join(left))
    forget_freed_space()


def erased(pk: int) -> Erasure | None:
    return Erasure.objects.select_related("erased_by").filter(grower=pk).first()
