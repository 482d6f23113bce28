"""Tells whoever drains the outbox that there is something to do. A lost nudge costs time, never a message."""

import logging

from celery import current_app
from django.conf import settings

from reports.messages import background

log = logging.getLogger("desk.messages")

DRAIN_TASK = "reports.messages.tasks.drain_outbox"
_STALE_AFTER_S = 60  # the schedule has looked twice by then
# Somebody waits for the page: without these a broker that is gone holds it up for six seconds.
_IMPATIENT = {
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0,
    "interval_max": 0,
    "socket_connect_timeout": 1,
    "socket_timeout": 1,
}


def nudge() -> None:
    """Wake a worker through the broker, or this process's own thread. Never raises: the row is the truth."""
    if not settings.CELERY_BROKER_URL:
        background.wake()
        return
    options = {**settings.CELERY_BROKER_TRANSPORT_OPTIONS, **_IMPATIENT}
    try:
        with current_app.connection_for_write(transport_options=options) as connection:
            current_app.send_task(
                DRAIN_TASK, ignore_result=True, retry=False, expires=_STALE_AFTER_S, connection=connection
            )
    except Exception as error:
        log.warning("The broker could not be told; the schedule will find the message. %s", error)
