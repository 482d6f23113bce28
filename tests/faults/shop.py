"""A shop under test: its servers, its worker and schedule, its outbox, and what arrived in the mailbox."""

import contextlib
import json
import os
import sys
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import django
from django.core.management import call_command
from django.db import OperationalError, connection

from tests.faults.machines import Machine, Process, answers, wait_until
from tests.servers import free_port

django.setup()

from consults.models import Plan  # noqa: E402
from reports.messages.nudge import nudge  # noqa: E402
from reports.models import Document, Message  # noqa: E402
from tests.reports.messages.making import announce, make_plan  # noqa: E402

SMTP_DELAY_MS = 5


@dataclass(frozen=True)
class Step:
    at_ns: int
    step: str
    message_id: str
    pid: int


class Shop:
    def __init__(self, folder: Path, postgres: Machine, redis: Machine) -> None:
        self.folder, self.postgres, self.redis = folder, postgres, redis
        self.mail_folder, self.trace = folder / "mail", folder / "trace"
        self.mail_folder.mkdir()
        port = free_port()
        environment = {
            **{
                name: os.environ[name] for name in ("PATH", "LD_LIBRARY_PATH", "TMPDIR") if name in os.environ
            },
            **{
                name: os.environ[name]
                for name in (
                    *("DJANGO_SETTINGS_MODULE", "DATABASE_URL", "REDIS_URL", "DATA_DIR", "SECRET_KEY"),
                    "PYTHONDONTWRITEBYTECODE",
                )
            },
            "EMAIL_URL": f"smtp://127.0.0.1:{port}",
            "FAULT_TRACE": str(self.trace),
            "FAULT_ONCE": str(folder / "once"),
        }
        celery = ["-m", "celery", "-A", "tests.faults.worker"]
        self.port = port
        self.mail = Process(
            [
                "-P",
                str(Path(__file__).with_name("mailbox.py")),
                str(self.mail_folder),
                str(port),
                str(SMTP_DELAY_MS),
            ],
            folder / "mail.log",
            environment,
        )
        self.worker = Process(
            [
                *celery,
                "worker",
                "--pool",
                "solo",
                "--loglevel",
                "INFO",
                "--without-gossip",
                "--without-mingle",
            ],
            folder / "worker.log",
            environment,
        )
        self.forking = Process(
            [
                *celery,
                "worker",
                "--concurrency",
                "1",
                "--loglevel",
                "INFO",
                "--without-gossip",
                "--without-mingle",
            ],
            folder / "forking.log",
            environment,
        )
        self.schedule = Process(
            [*celery, "beat", "--loglevel", "WARNING", "--schedule", str(folder / "schedule"), "--pidfile="],
            folder / "beat.log",
            environment,
        )

    @classmethod
    @contextlib.contextmanager
    def opened(cls, folder: Path, postgres: Machine, redis: Machine) -> Iterator["Shop"]:
        shop = cls(folder, postgres, redis)
        (folder / "data").mkdir(exist_ok=True)
        call_command("migrate", verbosity=0)
        try:
            shop.start_mail()
            shop.schedule.start()
            yield shop
        finally:
            for process in (shop.worker, shop.forking, shop.schedule, shop.mail):
                process.kill()
            connection.close()

    def say_all(self) -> None:
        """What the processes said last, and where each message stands: when something did not come about."""
        for path in sorted(self.folder.glob("*.log")):
            print(
                f"--- {path.name}",
                *path.read_text(errors="replace").splitlines()[-15:],
                sep="\n",
                file=sys.stderr,
            )
        for row in Message.objects.exclude(state="sent").values(
            "state", "tries", "last_error", "claimed_until"
        )[:9]:
            print(row, file=sys.stderr)

    def start_mail(self) -> None:
        self.mail.start()
        wait_until(lambda: answers(self.port), "the mail server's answer")

    # --- the outbox -------------------------------------------------------------------------------
    def issue(self) -> Plan:
        """A plan goes out by mail: its document is to be made first."""
        plan = make_plan()
        announce(plan)
        return plan

    def write(self, count: int, *, plan: Plan | None = None, tell: bool = True) -> list[str]:
        """`count` messages into the outbox, with the plan's document attached when one is given."""
        names = [uuid.uuid4().hex for _ in range(count)]
        Message.objects.bulk_create(
            Message(
                key=f"fault:{name}",
                plan=plan,
                to=plan.case.grower.email if plan else "ida@home.example",
                subject="Your plan",
                body="Hello\n",
                message_id=f"<{name}@shop.example>",
            )
            for name in names
        )
        if tell:
            nudge()
        return [f"<{name}@shop.example>" for name in names]

    def unsent(self) -> int:
        try:
            return Message.objects.exclude(state="sent").count()
        except OperationalError:
            connection.close()
            return -1

    def wait_until_sent(self, *, seconds: float = 120) -> None:
        wait_until(lambda: self.unsent() == 0, "that all messages were sent", seconds=seconds)

    def unmade(self) -> int:
        return Document.objects.exclude(state="ready").count()

    # --- what arrived -----------------------------------------------------------------------------
    def arrivals(self) -> dict[str, list[int]]:
        """When each mail was accepted, by Message-ID, in ns of the clock."""
        found: dict[str, list[int]] = {}
        for path in sorted(self.mail_folder.glob("*.eml")):
            head = path.read_bytes().partition(b"\r\n\r\n")[0].decode(errors="replace")
            lines = [line for line in head.splitlines() if line.lower().startswith("message-id:")]
            found.setdefault(lines[0].partition(":")[2].strip(), []).append(int(path.stem))
        return found

    def steps(self) -> list[Step]:
        if not self.trace.exists():
            return []
        lines = [json.loads(line) for line in self.trace.read_text().splitlines()]
        return [Step(line["at_ns"], line["step"], line["id"], line["pid"]) for line in lines]

    def passed(self, name: str) -> int:
        """How often this step was passed."""
        return self.trace.read_bytes().count(b'"step": "%s"' % name.encode()) if self.trace.exists() else 0

    def clear(self) -> None:
        """Forget what was written, sent and passed so far."""
        for path in [*self.mail_folder.iterdir(), self.folder / "once"]:
            path.unlink(missing_ok=True)
        if self.trace.exists():
            os.truncate(self.trace, 0)
        Message.objects.all().delete()
        Document.objects.all().delete()

    def verdict(self) -> dict[str, int]:
        """Rows, those that never arrived, second arrivals, and second arrivals after a mark."""
        rows = set(Message.objects.values_list("message_id", flat=True))
        arrived = self.arrivals()
        marked = {step.message_id: step.at_ns for step in reversed(self.steps()) if step.step == "after-mark"}
        twice = Counter({name: len(times) - 1 for name, times in arrived.items() if len(times) > 1})
        unexplained = sum(
            1
            for name in twice
            for first in [marked.get(name)]
            if first is not None and any(at > first for at in arrived[name])
        )
        return {
            "rows": len(rows),
            "lost": len(rows - set(arrived)),
            "unmarked": self.unsent(),
            "twice": sum(twice.values()),
            "unexplained": unexplained,
        }
