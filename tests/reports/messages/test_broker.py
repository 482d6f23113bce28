"""The broker nudges, the row is the truth: with Redis, and with Redis gone."""

import logging
import time
from collections.abc import Callable
from typing import Any

import pytest

from reports.messages.nudge import nudge
from reports.models import Message
from tests.reports.messages.conftest import wait_until
from tests.reports.messages.making import announce, make_plan
from tests.servers import SmtpServer, free_port, redis

_WORKER = ("-m", "celery", "-A", "consults.project", "worker", "--pool", "solo", "--loglevel", "INFO")
_ISSUING = """
import django
django.setup()
import sys
from django.db import transaction
from consults.models import Plan
from consults.signals import plan_issued
plan = Plan.objects.get(pk=sys.argv[1])
with transaction.atomic():
    plan_issued.send(sender=Plan, plan=plan, send_email=True, by=plan.issued_by)
"""


def test_issuing_a_plan_has_a_worker_elsewhere_deliver_it(
    shared_database: str, start: Callable[..., Any], mail_server: SmtpServer
) -> None:
    plan = make_plan()
    with redis() as url:
        worker = start(*_WORKER, REDIS_URL=url, EMAIL_URL=mail_server.url)
        lines = iter(worker.stdout.readline, "")
        assert any("ready." in line for line in lines)
        issuing = start("-c", _ISSUING, str(plan.pk), REDIS_URL=url, EMAIL_URL=mail_server.url)
        output, _ = issuing.communicate(timeout=60)
        assert issuing.returncode == 0, output
        wait_until(lambda: Message.objects.filter(plan=plan, state="sent").exists(), seconds=20)
    assert len(mail_server.deliveries()) == 1


@pytest.fixture
def broker_gone(settings: Any) -> None:
    settings.CELERY_BROKER_URL = f"redis://127.0.0.1:{free_port()}/0"
    from celery import current_app

    before = current_app.conf.broker_url
    current_app.conf.broker_url = settings.CELERY_BROKER_URL
    yield
    current_app.conf.broker_url = before


@pytest.mark.django_db(transaction=True)
def test_with_the_broker_gone_issuing_works_at_once_and_the_message_waits(
    broker_gone: None, caplog: pytest.LogCaptureFixture
) -> None:
    plan = make_plan()
    began = time.monotonic()
    with caplog.at_level(logging.WARNING, "desk.messages"):
        announce(plan)
    assert time.monotonic() - began < 2
    assert Message.objects.get().state == "waiting"
    assert "The broker could not be told" in caplog.text


def test_a_nudge_never_raises(broker_gone: None) -> None:
    nudge()
