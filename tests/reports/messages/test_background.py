"""Where there is no broker a thread of the web process delivers."""

from collections.abc import Callable
from typing import Any

import pytest

from reports.messages import background
from reports.messages.nudge import nudge
from reports.models import Message
from tests.reports.messages.conftest import wait_until
from tests.reports.messages.making import make_message
from tests.servers import SmtpServer

_WEB_PROCESS = """
import django
django.setup()
from reports.messages import background, delivery
from reports.messages.nudge import nudge
{before}
background.start_background()
print("started", flush=True)
while input() == "nudge":
    nudge()
"""
_FIRST_LOOK_FAILS = """
whole = delivery.drain
def broken(**kwargs):
    delivery.drain = whole
    raise RuntimeError("the first look fails")
delivery.drain = broken
"""


def _say(process: Any, word: str) -> None:
    process.stdin.write(word + "\n")
    process.stdin.flush()


def test_what_waited_is_sent_when_the_site_starts(
    shared_database: str, start: Callable[..., Any], mail_server: SmtpServer
) -> None:
    message = make_message()
    start("-c", _WEB_PROCESS.format(before=""), EMAIL_URL=mail_server.url)
    wait_until(lambda: Message.objects.get(pk=message.pk).state == "sent")


def test_a_nudge_is_answered_at_once_and_not_only_at_the_next_look(
    shared_database: str, start: Callable[..., Any], mail_server: SmtpServer
) -> None:
    process = start("-c", _WEB_PROCESS.format(before=""), EMAIL_URL=mail_server.url)
    assert process.stdout.readline() == "started\n"
    first = make_message()
    _say(process, "nudge")
    wait_until(lambda: Message.objects.get(pk=first.pk).state == "sent", seconds=20)
    second = make_message()
    _say(process, "nudge")
    wait_until(lambda: Message.objects.get(pk=second.pk).state == "sent", seconds=20)


def test_a_fault_does_not_end_the_thread(
    shared_database: str, start: Callable[..., Any], mail_server: SmtpServer
) -> None:
    message = make_message()
    process = start("-c", _WEB_PROCESS.format(before=_FIRST_LOOK_FAILS), EMAIL_URL=mail_server.url)
    lines = iter(process.stdout.readline, "")
    assert any("the first look fails" in line for line in lines)
    _say(process, "nudge")
    wait_until(lambda: Message.objects.get(pk=message.pk).state == "sent", seconds=20)


def test_a_process_that_serves_no_pages_gets_no_thread(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.CELERY_BROKER_URL = None
    settings.BACKGROUND_THREAD = True
    nudge()
    assert background._thread is None


def test_with_a_broker_the_site_starts_no_thread(settings: Any) -> None:
    settings.BACKGROUND_THREAD = False
    background.start_background()
    nudge()
    assert background._thread is None
