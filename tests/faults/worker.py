"""The worker that is killed: the site's own Celery app, with a look over its shoulder and short patience.

Nothing of this is in the program. Functions are wrapped from outside: each writes a line when it is passed,
and where FAULT_STEP names it and FAULT_ONCE (a file) does not exist yet, the process kills itself there with
SIGKILL.
"""

import json
import os
import re
import signal
import smtplib
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.faults.settings")
django.setup()

from consults.project.celery import app  # noqa: E402
from reports import claims  # noqa: E402
from reports.documents import making, services  # noqa: E402
from reports.messages import delivery  # noqa: E402

__all__ = ["app"]

LEASE = timedelta(seconds=2)
_MESSAGE_ID = re.compile(rb"^Message-ID:\s*(<[^>]+>)", re.MULTILINE | re.IGNORECASE)
_trace = os.open(os.environ["FAULT_TRACE"], os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)


def passed(step: str, message_id: str = "") -> None:
    """Write down that this step was reached; end here when it is this one's turn."""
    line = {"at_ns": time.time_ns(), "pid": os.getpid(), "step": step, "id": message_id}
    os.write(_trace, json.dumps(line).encode() + b"\n")
    if os.environ.get("FAULT_STEP") != step:
        return
    try:
        os.close(os.open(os.environ["FAULT_ONCE"], os.O_WRONLY | os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return
    os.kill(os.getpid(), signal.SIGKILL)


def _impatient() -> None:
    delivery.LEASE = making.LEASE = LEASE
    delivery.MAX_TRIES = making.MAX_TRIES = 60
    claims.FIRST_PAUSE_S, claims.PAUSE_GROWTH, claims.LONGEST_PAUSE_S = 0.5, 1.3, 2.0


def _around(module: Any, name: str, wrap: Callable[[Any], Any]) -> None:
    setattr(module, name, wrap(getattr(module, name)))


def _claim(whole: Any) -> Any:
    def claim(*args: Any) -> Any:
        passed("before-claim")
        message = whole(*args)
        if message is not None:
            passed("after-claim", message.message_id)
        return message

    return claim


def _data(whole: Any) -> Any:
    def data(self: smtplib.SMTP, text: bytes) -> Any:
        named = _MESSAGE_ID.search(text)
        message_id = named.group(1).decode() if named else ""
        passed("before-data", message_id)
        if os.environ.get("FAULT_STEP") == "mid-data":
            self.putcmd("data")
            self.getreply()
            self.send(text[: len(text) // 2])
            passed("mid-data", message_id)
            raise smtplib.SMTPServerDisconnected("another try, after the fault had its turn")
        answer = whole(self, text)
        if answer[0] == 250:
            passed("after-250", message_id)
        return answer

    return data


def _sent(whole: Any) -> Any:
    def sent(message: Any, *rest: Any) -> Any:
        passed("before-mark", message.message_id)
        done = whole(message, *rest)
        passed("after-mark", message.message_id)
        return done

    return sent


def _render(whole: Any) -> Any:
    def render(document: Any) -> Any:
        passed("before-rendering")
        return whole(document)

    return render


def _write(whole: Any) -> Any:
    def write(*args: Any) -> Any:
        name = whole(*args)
        passed("after-file")  # the file lies there, the row does not know of it
        return name

    return write


_impatient()
_around(delivery, "_claim", _claim)
_around(delivery, "_sent", _sent)
_around(smtplib.SMTP, "data", _data)
_around(making, "document_render", _render)
_around(services, "_write", _write)
