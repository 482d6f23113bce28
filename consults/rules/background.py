"""Where there is no broker, a thread of the web process works on the replay until it is over.

When that process ends the replay rests; the page that shows its progress takes it up again.
"""

import logging
import os
import threading
import time

from django.conf import settings
from django.db import connections

log = logging.getLogger("desk.rules")

_WAIT_S = 5.0
_guard = threading.Lock()
_thread: threading.Thread | None = None


def wake(replay_pk: int) -> None:
    """Let this process's thread work on a replay, where the settings ask for one."""
    global _thread
    if not settings.BACKGROUND_THREAD:
        return
    with _guard:
        if _thread is None or not _thread.is_alive():
            _thread = threading.Thread(target=_run, args=(replay_pk,), name="replay", daemon=True)
            _thread.start()


def _run(replay_pk: int) -> None:
    from consults.rules.replays import Work, replay_work

    try:
        while (found := replay_work(replay_pk, worker=f"web-{os.getpid()}")) is not Work.OVER:
            # The process serves pages too: let them through between two chunks.
            time.sleep(_WAIT_S if found is Work.WAIT else 0.05)
    except Exception:
        log.exception("The replay stopped; looking at its page takes it up again.")
    finally:
        connections.close_all()
