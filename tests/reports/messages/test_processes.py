"""Several drains at once, and one that is killed, on a database they share."""

import socket
import subprocess
import threading
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from django.db import connections
from django.utils import timezone

from reports.documents.services import document_get_or_render
from reports.messages.delivery import LEASE, Drained, drain
from reports.models import Document, Message
from tests.reports.messages.conftest import wait_until
from tests.reports.messages.making import make_message, make_plan
from tests.servers import SmtpServer

Start = Callable[..., "subprocess.Popen[str]"]


def _ended(process: "subprocess.Popen[str]") -> str:
    output, _ = process.communicate(timeout=120)
    assert process.returncode == 0, output
    return output


def test_two_processes_draining_at_once_send_each_message_once(
    shared_database: str, start: Start, mail_server: SmtpServer
) -> None:
    wanted = sorted(make_message().to for _ in range(12))
    both = [start("manage.py", "work", "--once", EMAIL_URL=mail_server.url) for _ in range(2)]
    said = "".join(_ended(process) for process in both)
    assert sorted(delivery.recipients[0] for delivery in mail_server.deliveries()) == wanted
    assert set(Message.objects.values_list("state", flat=True)) == {"sent"}
    assert said.count("given up: 0") == 2


def _together(work: Callable[[], object], times: int) -> None:
    gate = threading.Barrier(times)

    def one() -> None:
        gate.wait()
        try:
            work()
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_threads_draining_at_once_send_each_message_once(
    shared_database: str, mail_server: SmtpServer
) -> None:
    wanted = sorted(make_message().to for _ in range(12))
    done: list[Drained] = []
    _together(lambda: done.append(drain(worker="thread")), times=4)
    assert sum(one.sent for one in done) == 12
    assert sorted(delivery.recipients[0] for delivery in mail_server.deliveries()) == wanted


def test_two_who_render_the_same_plan_at_once_get_one_document_and_leave_one_file(
    shared_database: str, settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path / "private"
    plan = make_plan()
    got: list[Document] = []
    _together(lambda: got.append(document_get_or_render(plan)), times=3)
    assert len(got) == 3
    assert set(got) == {Document.objects.get()}
    assert len(list((tmp_path / "private" / "documents").iterdir())) == 1


def test_a_worker_killed_before_sending_loses_nothing_and_the_message_goes_out_once_after_the_lease(
    shared_database: str, start: Start, mail_server: SmtpServer
) -> None:
    message = make_message()
    with socket.create_server(("127.0.0.1", 0)) as silent:  # takes the call and never says a word
        silent.settimeout(60)
        worker = start("manage.py", "work", "--once", EMAIL_URL=f"smtp://127.0.0.1:{silent.getsockname()[1]}")
        call, _address = silent.accept()
        with call:
            worker.kill()
            worker.wait()
    message.refresh_from_db()
    assert (message.state, message.tries) == ("waiting", 1)
    assert message.claimed_until > timezone.now()
    assert drain(worker="test") == Drained()
    later = timezone.now() + LEASE + timedelta(seconds=1)
    assert drain(worker="test", now=later) == Drained(sent=1)
    assert drain(worker="test", now=later) == Drained()
    assert len(mail_server.deliveries()) == 1


def test_work_once_says_what_it_did(shared_database: str, start: Start, mail_server: SmtpServer) -> None:
    make_message()
    refused = make_message()
    mail_server.answer(refused.to, 550)
    said = _ended(start("manage.py", "work", "--once", EMAIL_URL=mail_server.url))
    assert "sent: 1, to be tried again: 0, given up: 1" in said


def test_work_without_once_goes_on_until_it_is_stopped(
    shared_database: str, start: Start, mail_server: SmtpServer
) -> None:
    make_message()
    worker = start("manage.py", "work", EMAIL_URL=mail_server.url)
    wait_until(lambda: len(mail_server.deliveries()) == 1)
    assert worker.poll() is None


def test_without_a_mail_server_work_writes_files(shared_database: str, start: Start, tmp_path: Path) -> None:
    message = make_message()
    _ended(start("manage.py", "work", "--once"))
    message.refresh_from_db()
    assert Path(message.sent_as).parent == tmp_path / "data" / "outgoing"
    assert Path(message.sent_as).is_file()
