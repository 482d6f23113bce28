"""The broker's door to the outbox."""

import os

from celery import shared_task

from reports.messages.nudge import DRAIN_TASK, nudge
from reports.messages.work import work_once

_AT_ONCE = 20


@shared_task(name=DRAIN_TASK)  # type: ignore[untyped-decorator]
def drain_outbox() -> None:
    """Make and send what is due. Rows are claimed: it may run twice or at once. A full load asks for more."""
    made, drained = work_once(worker=f"celery-{os.getpid()}", limit=_AT_ONCE)
    if _AT_ONCE in (made, drained.total):
        nudge()
