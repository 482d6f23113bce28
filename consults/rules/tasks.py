"""The broker's door to replays."""

import os
from typing import Any

from celery import shared_task
from celery.signals import worker_ready

from consults.models.rules import ReplayState, RulesReplay
from consults.rules.nudge import REPLAY_TASK, nudge, nudge_if_stalled
from consults.rules.replays import Work, replay_work

_LOOK_AGAIN_S = 20
RESUME_TASK = "consults.rules.tasks.resume_replays"


@shared_task(name=REPLAY_TASK)  # type: ignore[untyped-decorator]
def replay_some(replay_pk: int) -> None:
    """Work on one chunk and ask for the next. Chunks are held and counted once: it may run twice."""
    found = replay_work(replay_pk, worker=f"celery-{os.getpid()}")
    if found is not Work.OVER:
        nudge(replay_pk, wait_s=_LOOK_AGAIN_S if found is Work.WAIT else 0)


@shared_task(name=RESUME_TASK)  # type: ignore[untyped-decorator]
def resume_replays() -> None:
    """Take up what nobody works on; for the schedule, and for a worker that has just come up."""
    for replay in RulesReplay.objects.filter(state=ReplayState.RUNNING):
        nudge_if_stalled(replay)


@worker_ready.connect  # type: ignore[untyped-decorator]
def _resume(**_kwargs: Any) -> None:
    resume_replays.delay()
