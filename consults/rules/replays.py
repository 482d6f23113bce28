"""Replays: starting one, sharing its chunks among workers, counting each once, cancelling.

A chunk is held by one conditional UPDATE with a lease, as a message of the outbox is. What it came to is one
row whose key is the chunk's, written together with its changes: a chunk that two workers ran counts once.
"""

import datetime
import enum
from collections.abc import Iterator

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import Case, RulesetVersion
from consults.models.rules import ReplayChange, ReplayChunk, ReplayResult, ReplayState, RulesReplay
from consults.rules.archive import archived_cases, bundled_files
from consults.rules.replaying import Moved, Outcome, replay_chunk
from consults.rules.selectors import ruleset_by_version
from consults.rules.services import ruleset_row
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset
from garden.access import Right, check_right
from garden.models import Staff
from garden.profiles.selectors import reference_current
from garden.reference.loader import load_reference, using_reference

CHUNK = 500  # cases; a second or two of work
LEASE = datetime.timedelta(seconds=120)
KEPT = 3  # replays, the newest; older ones go when another starts


class Work(enum.Enum):
    """What became of asking for a chunk."""

    DONE = "done"  # one chunk was worked on
    WAIT = "wait"  # all that is left is held by others
    OVER = "over"  # nothing is left, or it was cancelled


def replay_start(*, before: Ruleset, after: Ruleset, by: Staff | None = None) -> RulesReplay:
    """Begin a replay of the whole archive; the work is done by `replay_work`. One runs at a time.

    `by` None is the command line. Raises PermissionDenied, and DeskError while another one runs.
    """
    if by is not None:
        check_right(by, Right.EDIT_RULES)
    try:
        with transaction.atomic():
            replay = RulesReplay.objects.create(
                before=ruleset_row(before), after=ruleset_row(after), started_by=by
            )
            chunks = list(_chunks(replay))
            ReplayChunk.objects.bulk_create(chunks, batch_size=500)
            replay.total = sum(chunk.cases for chunk in chunks)
            replay.save(update_fields=["total"])
    except IntegrityError:
        raise DeskError(_("A replay is running already. Wait for it, or cancel it.")) from None
    _forget_old()
    return replay


def _chunks(replay: RulesReplay) -> Iterator[ReplayChunk]:
    """The bundled case files, then ranges of keys with at most `CHUNK` cases each."""
    yield ReplayChunk(replay=replay, number=0, cases=len(bundled_files()))
    keys = Case.objects.order_by("pk").values_list("pk", flat=True)
    number, first, last, count = 1, 0, 0, 0
    for key in keys.iterator(chunk_size=5000):
        if count == 0:
            first = key
        last, count = key, count + 1
        if count == CHUNK:
            yield ReplayChunk(replay=replay, number=number, first=first, last=last, cases=count)
            number, count = number + 1, 0
    if count:
        yield ReplayChunk(replay=replay, number=number, first=first, last=last, cases=count)


def _forget_old() -> None:
    """Drop all but the newest replays, and versions that were only ever tried."""
    newest = RulesReplay.objects.order_by("-pk").values_list("pk", flat=True)[:KEPT]
    RulesReplay.objects.exclude(pk__in=list(newest)).exclude(state=ReplayState.RUNNING).delete()
    tried = RulesetVersion.objects.filter(
        published_at__isnull=True, rankings__isnull=True, drafts__isnull=True
    )
    used = RulesReplay.objects.filter(Q(before=OuterRef("pk")) | Q(after=OuterRef("pk")))
    tried.exclude(Exists(used)).delete()


def replay_work(replay_pk: int, *, worker: str) -> Work:
    """Take one chunk of a replay, if there is one to take, and count what it comes to."""
    replay = RulesReplay.objects.select_related("before", "after").defer(
        "before__content", "after__content"
    ).filter(pk=replay_pk).first()  # fmt: skip
    if replay is None or not replay.is_running:
        return Work.OVER
    chunk = chunk_claim(replay, worker=worker)
    if chunk is None:
        return Work.OVER if _finish(replay) else Work.WAIT
    try:
        rulesets = [ruleset_by_version(row.version) for row in (replay.before, replay.after)]
    except RulesetError:  # a newer program no longer takes them
        replay_cancel(replay=replay)
        return Work.OVER
    chunk_count(chunk, chunk_run(chunk, *rulesets))
    _finish(replay)
    return Work.DONE


def chunk_claim(replay: RulesReplay, *, worker: str) -> ReplayChunk | None:
    """A chunk that nobody works on, now held by this worker, or None."""
    now = timezone.now()
    free = Q(held_until__isnull=True) | Q(held_until__lt=now)
    waiting = ReplayChunk.objects.filter(free, replay=replay, result__isnull=True).order_by("number")
    for chunk in waiting[:20]:
        mine = ReplayChunk.objects.filter(free, pk=chunk.pk, result__isnull=True)
        if mine.update(held_by=worker[:80], held_until=now + LEASE):
            return chunk
    return None


def chunk_run(chunk: ReplayChunk, before: Ruleset, after: Ruleset) -> Outcome:
    """What the cases of a chunk come to, judged by the shop's crops as they are now."""
    with using_reference(reference_current()):
        return replay_chunk(archived_cases(chunk), before, after, load_reference())


def chunk_count(chunk: ReplayChunk, outcome: Outcome) -> bool:
    """Write down what a chunk came to. False when it was counted before, or nobody waits for it any more."""
    result = ReplayResult(
        chunk=chunk,
        same=outcome.same,
        slight=outcome.slight,
        changed=len(outcome.moved),
        unreadable=outcome.unreadable,
        confirmed=outcome.confirmed,
        agreed_before=outcome.agreed_before,
        agreed_after=outcome.agreed_after,
    )
    try:
        with transaction.atomic():
            if not RulesReplay.objects.filter(pk=chunk.replay_id, state=ReplayState.RUNNING).exists():
                return False
            result.save(force_insert=True)
            changes = [_change(chunk.replay_id, moved) for moved in outcome.moved]
            ReplayChange.objects.bulk_create(changes, batch_size=500)
    except IntegrityError:
        return False
    return True


def _change(replay_id: int, moved: Moved) -> ReplayChange:
    return ReplayChange(
        replay_id=replay_id,
        case_id=moved.key,
        file=moved.file[:120],
        before_cause=moved.before[0],
        before_chance=moved.before[1],
        after_cause=moved.after[0],
        after_chance=moved.after[1],
        moves=[list(move) for move in moved.moves],
        confirmed=",".join(moved.confirmed)[:200],
        agreed_before=moved.agreed_before,
        agreed_after=moved.agreed_after,
        weight=moved.weight,
    )


def _finish(replay: RulesReplay) -> bool:
    """Say that a replay is done once every chunk is counted. True when it is over."""
    left = ReplayChunk.objects.filter(replay=OuterRef("pk"), result__isnull=True)
    running = RulesReplay.objects.filter(pk=replay.pk, state=ReplayState.RUNNING)
    running.filter(~Exists(left)).update(state=ReplayState.DONE, finished_at=timezone.now())
    return not running.exists()


def replay_cancel(*, replay: RulesReplay, by: Staff | None = None) -> None:
    """Stop a replay. What was counted stays to be read; a chunk under way is not counted any more."""
    if by is not None:
        check_right(by, Right.EDIT_RULES)
    RulesReplay.objects.filter(pk=replay.pk, state=ReplayState.RUNNING).update(
        state=ReplayState.CANCELLED, finished_at=timezone.now()
    )


def replay_is_stalled(replay: RulesReplay, *, patience: datetime.timedelta) -> bool:
    """Whether nobody seems to work on a running replay, and nobody was asked to lately.

    True for one caller only in `patience`.
    """
    now = timezone.now()
    held = ReplayChunk.objects.filter(replay=replay, result__isnull=True, held_until__gt=now)
    if not replay.is_running or held.exists():
        return False
    quiet = Q(nudged_at__isnull=True) | Q(nudged_at__lt=now - patience)
    return bool(RulesReplay.objects.filter(quiet, pk=replay.pk).update(nudged_at=now))
