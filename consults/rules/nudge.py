"""Tells workers that a replay has chunks left. A lost nudge costs time, never a result."""

import datetime
import logging

from celery import current_app
from django.conf import settings

from consults.models.rules import RulesReplay
from consults.rules import background
from consults.rules.replays import replay_is_stalled

log = logging.getLogger("desk.rules")

REPLAY_TASK = "consults.rules.tasks.replay_some"
# As many chunks are asked for at once. Each asks for the next when it is done, so that mail, which waits in
# the same line, never stands behind more than these.
LANES = 4
_PATIENCE = datetime.timedelta(seconds=30)
# Somebody waits for the page: without these a broker that is gone holds it up for six seconds.
_IMPATIENT = {
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0,
    "interval_max": 0,
    "socket_connect_timeout": 1,
    "socket_timeout": 1,
}


def nudge(replay_pk: int, *, lanes: int = 1, wait_s: float = 0) -> None:
    """Ask workers for chunks, through the broker or this process's own thread. Never raises."""
    if not settings.CELERY_BROKER_URL:
        background.wake(replay_pk)
        return
    options = {**settings.CELERY_BROKER_TRANSPORT_OPTIONS, **_IMPATIENT}
    try:
        with current_app.connection_for_write(transport_options=options) as connection:
            for _lane in range(lanes):
                current_app.send_task(
                    REPLAY_TASK,
                    args=[replay_pk],
                    countdown=wait_s or None,
                    ignore_result=True,
                    retry=False,
                    connection=connection,
                )
    except Exception as error:
        log.warning("The broker could not be told; the page of the replay tries again. %s", error)


def nudge_if_stalled(replay: RulesReplay) -> None:
    """Take up a running replay that nobody works on: workers were restarted, or a nudge was lost."""
    if replay_is_stalled(replay, patience=_PATIENCE):
        nudge(replay.pk, lanes=LANES)
