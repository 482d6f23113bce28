"""Servers and processes that can be killed and started again on the same port, with the same files."""

import contextlib
import os
import resource
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import psycopg
import redis

from tests import servers

ROOT = Path(__file__).resolve().parents[2]
_PATIENCE_S = 60
_TIED = ["setpriv", "--pdeathsig=KILL", "--"]


def wait_until(holds: Callable[[], bool], what: str, *, seconds: float = _PATIENCE_S) -> None:
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            raise TimeoutError(f"{what} did not come about within {seconds:g} s")
        time.sleep(0.02)


def answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=2):
        return True
    return False


def is_gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


def children(pid: int) -> list[int]:
    try:
        return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []


class Machine:
    """A running server: what it was started with is read from it, so that it can be started once more."""

    def __init__(self, pid: int, port: int, tie: Sequence[str] = _TIED) -> None:
        self.pid, self.port = pid, port
        command = Path(f"/proc/{pid}/cmdline").read_bytes().rstrip(b"\0").split(b"\0")
        self.command = [*tie, *(os.fsdecode(part) for part in command)]
        self.folder = Path(f"/proc/{pid}/cwd").readlink()
        self.process: subprocess.Popen[bytes] | None = None

    def stop(self, number: signal.Signals) -> None:
        os.kill(self.pid, number)
        wait_until(
            lambda: (self.process is not None and self.process.poll() is not None) or is_gone(self.pid), "end"
        )

    def start(self) -> None:
        self.process = subprocess.Popen(
            self.command,
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.pid = self.process.pid
        wait_until(lambda: answers(self.port), "the server's answer")

    def end(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGQUIT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(timeout=10)
            if self.process.poll() is None:
                self.process.kill()
                self.process.wait()


@contextlib.contextmanager
def database() -> Iterator[tuple[str, Machine]]:
    with servers.postgres() as url:
        with psycopg.connect(url) as connection:
            found = connection.execute("SHOW data_directory").fetchone()
        assert found is not None
        pid = int((Path(found[0]) / "postmaster.pid").read_text().splitlines()[0])
        tie = servers._as_account(servers._account(), "--pdeathsig=QUIT")
        machine = Machine(pid, int(url.rpartition(":")[2].partition("/")[0]), tie)
        machine.command = [part for part in machine.command if part]
        try:
            yield url, machine
        finally:
            machine.end()


@contextlib.contextmanager
def broker() -> Iterator[tuple[str, Machine]]:
    with servers.redis() as url:
        port = int(url.rpartition(":")[2].partition("/")[0])
        with redis.Redis.from_url(url) as client:
            pid = int(client.info()["process_id"])
        # Redis writes its own title over its arguments: they are told again.
        machine = Machine(pid, port)
        program = shutil.which("redis-server")
        assert program is not None
        machine.command = [*_TIED, program, "--port", str(port), "--bind", "127.0.0.1", "--save", ""]
        try:
            yield url, machine
        finally:
            machine.end()


class Process:
    """A Python process of ours, in its own session; what it says goes to a file."""

    def __init__(self, arguments: Sequence[str], log: Path, environment: dict[str, str]) -> None:
        self.arguments, self.log, self.environment = arguments, log, environment
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *, most_bytes: int = 0, **more: str) -> None:
        """`most_bytes`: no file the process writes may grow beyond it, as on a full disk."""

        def limit() -> None:
            if most_bytes:
                resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))

        with Path(os.devnull if most_bytes else self.log).open("ab") as output:
            self.process = subprocess.Popen(
                [*_TIED, sys.executable, *self.arguments],
                cwd=ROOT,
                env={**self.environment, **more},
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
                preexec_fn=limit,  # nothing else runs in this process that could hold a lock
            )

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    @property
    def is_over(self) -> bool:
        return self.process is None or self.process.poll() is not None

    def kill(self) -> None:
        """SIGKILL to it and to all it started."""
        if self.process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None
