"""Where there is no broker, one thread of each web process makes documents and drains the outbox.

Only a process that called `start_background` has the thread: a command that ends soon would take it
down in the middle of a delivery.
"""

import logging
import os
import threading

from django.conf import settings
from django.db import connections

log = logging.getLogger("desk.messages")

_LOOK_EVERY_S = 30.0
_guard = threading.Lock()
_wanted = threading.Event()
_something_to_do = threading.Event()
_thread: threading.Thread | None = None


def start_background() -> None:
    """Start the thread of this process once, when the settings ask for one; called at each request."""
    if settings.BACKGROUND_THREAD and not _wanted.is_set():
        _wanted.set()
        wake()


def wake() -> None:
    """Let the thread look now. Starts it anew if it is gone, as it is after a fork."""
    global _thread
    if not _wanted.is_set():
        return
    _something_to_do.set()
    with _guard:
        if _thread is None or not _thread.is_alive():
            _thread = threading.Thread(target=_run, name="outbox", daemon=True)
            _thread.start()


def _run() -> None:
    while True:
        _something_to_do.wait(_LOOK_EVERY_S)
        _something_to_do.clear()
        _drain_all()


def _drain_all() -> None:
    # Here, for `delivery` and all that makes documents is needed by the thread only, not by whoever nudges.
    from reports.messages.work import work_once

    try:
        while any(work_once(worker=f"web-{os.getpid()}")):
            pass
    except Exception:
        log.exception("Draining the outbox stopped; it goes on at the next look.")
    finally:
        connections.close_all()
