"""The broker's door to the outbox."""

import os

from celery import shared_task

from reports.messages.delivery import drain
from reports.messages.nudge import DRAIN_TASK, nudge

_AT_ONCE = 20


@shared_task(name=DRAIN_TASK)  # type: ignore[untyped-decorator]
def drain_outbox() -> None:
    """Send what is due. Rows are claimed, so it may run twice or at once. A full load asks for more."""
    if drain(worker=f"celery-{os.getpid()}", limit=_AT_ONCE).total == _AT_ONCE:
        nudge()
