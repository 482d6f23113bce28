"""Private servers for tests: each a real process on a free port of 127.0.0.1, gone when its block ends.

In a test or fixture (all are context managers; nothing is shared, so runs at once do not meet):

    with postgres() as url: ...      # "postgres://postgres@127.0.0.1:PORT/postgres"
    with redis() as url: ...         # "redis://127.0.0.1:PORT/0"
    with smtp() as server: ...       # SmtpServer: .url .host .port .folder .answer() .deliveries() .clear()

Around any command, which finds the addresses as DATABASE_URL and REDIS_URL in its environment and
whose exit status is returned:

    python -m tests.servers postgres [redis] -- COMMAND...

The servers also end when the process that started them is killed.
"""

import argparse
import asyncio
import contextlib
import email
import email.policy
import json
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import psycopg
from aiosmtpd.smtp import SMTP, Envelope, Session

_PATIENCE_S = 30
_TRIES = 5
_ANSWERS = "answers.json"


class ServerError(RuntimeError):
    """A server did not come up; the message carries what it said."""


def free_port() -> int:
    """A port of 127.0.0.1 that nobody listened on a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


# --- processes ------------------------------------------------------------------------------------
def _account() -> pwd.struct_passwd | None:
    """Whom PostgreSQL runs as when we are root, which it refuses to run as; None when we are not."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise ServerError("PostgreSQL refuses to run as root, and there is no account postgres or nobody.")


def _as_account(account: pwd.struct_passwd | None, *more: str) -> list[str]:
    who = [f"--reuid={account.pw_uid}", f"--regid={account.pw_gid}", "--clear-groups"] if account else []
    return ["setpriv", *who, *more, "--"]


@contextlib.contextmanager
def _running(
    command: Sequence[str], log: Path, stop: signal.Signals, **options: Any
) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("ab") as output:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=output, stderr=output, **options)
    try:
        yield process
    finally:
        process.send_signal(stop)
        try:
            process.wait(timeout=_PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _comes_up(process: subprocess.Popen[bytes], answers: Callable[[], bool]) -> bool:
    """Waits; False when the process ended by itself (its port was taken), which is worth another try."""
    end = time.monotonic() + _PATIENCE_S
    while process.poll() is None:
        if answers():
            return True
        if time.monotonic() > end:
            raise ServerError(f"{process.args!r} did not answer within {_PATIENCE_S} s.")
        time.sleep(0.02)
    return False


@contextlib.contextmanager
def _on_free_port(
    command: Callable[[int], Sequence[str]],
    answers: Callable[[int], bool],
    log: Path,
    stop: signal.Signals,
    **options: Any,
) -> Iterator[int]:
    for _ in range(_TRIES):
        port = free_port()
        with _running(command(port), log, stop, **options) as process:
            if _comes_up(process, lambda port=port: answers(port)):  # type: ignore[misc]
                yield port
                return
    raise ServerError(f"{command(0)[0]} ended {_TRIES} times at once:\n{log.read_text(errors='replace')}")


# --- PostgreSQL -----------------------------------------------------------------------------------
def _postgres_program(name: str) -> str:
    found = shutil.which(name)
    if found:
        return str(Path(found).resolve())
    installed = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3].split(".")[0])
    )
    if not installed:
        raise ServerError(f"PostgreSQL is not installed: no program {name}. Install the package postgresql.")
    return str(installed[-1])


def _postgres_answers(port: int) -> bool:
    try:
        psycopg.connect(
            host="127.0.0.1", port=port, user="postgres", dbname="postgres", connect_timeout=5
        ).close()
    except psycopg.OperationalError:
        return False
    return True


@contextlib.contextmanager
def postgres() -> Iterator[str]:
    """A fresh PostgreSQL cluster; yields the address of its database `postgres` as a DATABASE_URL.

    No Unix socket is made and nothing is kept. As root the server runs as the account postgres.
    """
    account = _account()
    initdb, server = _postgres_program("initdb"), _postgres_program("postgres")
    folder = Path(tempfile.mkdtemp(prefix="desk-postgres-"))
    try:
        if account:
            os.chown(folder, account.pw_uid, account.pw_gid)
        data = folder / "data"
        made = subprocess.run(
            [
                *_as_account(account),
                *(initdb, "-D", str(data), "-U", "postgres", "-A", "trust", "-E", "UTF8"),
                *("--locale=C.UTF-8", "--no-sync"),
            ],
            capture_output=True, text=True, check=False, cwd=folder,
        )  # fmt: skip
        if made.returncode:
            raise ServerError(f"initdb failed:\n{made.stdout}{made.stderr}")
        settings = {
            "listen_addresses": "127.0.0.1",
            "unix_socket_directories": "",
            "fsync": "off",
            "synchronous_commit": "off",
            "full_page_writes": "off",
        }

        def command(port: int) -> list[str]:
            options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
            return [
                *_as_account(account, "--pdeathsig=QUIT"),
                server,
                "-D",
                str(data),
                "-p",
                str(port),
                *options,
            ]

        with _on_free_port(command, _postgres_answers, folder / "log", signal.SIGQUIT, cwd=folder) as port:
            yield f"postgres://postgres@127.0.0.1:{port}/postgres"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


# --- Redis ----------------------------------------------------------------------------------------
def _redis_answers(port: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
            connection.sendall(b"PING\r\n")
            return connection.recv(16).startswith(b"+PONG")
    except OSError:
        return False


@contextlib.contextmanager
def redis() -> Iterator[str]:
    """An empty Redis that keeps nothing on disk; yields its address as a REDIS_URL."""
    program = shutil.which("redis-server")
    if not program:
        raise ServerError("Redis is not installed. Install the package redis-server.")
    folder = Path(tempfile.mkdtemp(prefix="desk-redis-"))

    def command(port: int) -> list[str]:
        return [
            *("setpriv", "--pdeathsig=KILL", "--", program, "--port", str(port), "--bind", "127.0.0.1"),
            *("--save", "", "--appendonly", "no", "--dir", str(folder)),
        ]

    try:
        with _on_free_port(command, _redis_answers, folder / "log", signal.SIGKILL) as port:
            yield f"redis://127.0.0.1:{port}/0"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


# --- SMTP -----------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Delivery:
    """One mail the server accepted: the envelope and the message."""

    sender: str
    recipients: tuple[str, ...]
    message: EmailMessage
    raw: bytes


@dataclass(frozen=True)
class SmtpServer:
    """A running mail server. `url` is its EMAIL_URL; accepted mail lies in `folder` as 000001.eml, …"""

    host: str
    port: int
    folder: Path

    @property
    def url(self) -> str:
        return f"smtp://{self.host}:{self.port}"

    def answer(self, recipient: str, code: int, *, at: str = "rcpt") -> None:
        """From now on answer `code` (such as 451 or 550) for this recipient; 250 accepts again.

        `at` is "rcpt" (the recipient is refused) or "data" (the whole mail is refused after its text).
        """
        if at not in ("rcpt", "data"):
            raise ValueError(f"at must be rcpt or data, not {at!r}.")
        answers = _read_answers(self.folder)
        answers[recipient.lower()] = [at, code]
        _write_whole(self.folder / _ANSWERS, json.dumps(answers).encode())

    def deliveries(self) -> list[Delivery]:
        """What was accepted so far, oldest first."""
        return [_read_delivery(path) for path in sorted(self.folder.glob("*.eml"))]

    def clear(self) -> None:
        """Forget the accepted mail and the refusals."""
        for path in self.folder.iterdir():
            path.unlink()


def _write_whole(path: Path, content: bytes) -> None:
    """A reader never sees half a file."""
    part = path.with_suffix(".part")
    part.write_bytes(content)
    part.replace(path)


def _read_answers(folder: Path) -> dict[str, list[Any]]:
    path = folder / _ANSWERS
    return json.loads(path.read_bytes()) if path.exists() else {}


def _read_delivery(path: Path) -> Delivery:
    raw = path.read_bytes()
    envelope = json.loads(path.with_suffix(".json").read_bytes())
    message = email.message_from_bytes(raw, policy=email.policy.default)
    return Delivery(envelope["sender"], tuple(envelope["recipients"]), message, raw)  # type: ignore[arg-type]


class _Keeper:
    """The SMTP side: keeps what it accepts, refuses what it was told to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.count = 0

    def refusal(self, recipient: str, step: str) -> str | None:
        at, code = _read_answers(self.folder).get(recipient.lower(), (step, 250))
        return f"{code} answered so on request" if at == step and code != 250 else None

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        refusal = self.refusal(address, "rcpt")
        if refusal:
            return refusal
        envelope.rcpt_tos.append(address)
        envelope.rcpt_options.extend(options)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        for recipient in envelope.rcpt_tos:
            refusal = self.refusal(recipient, "data")
            if refusal:
                return refusal
        self.count += 1
        path = self.folder / f"{self.count:06d}.eml"
        kept = {"sender": envelope.mail_from, "recipients": envelope.rcpt_tos}
        _write_whole(path.with_suffix(".json"), json.dumps(kept).encode())
        _write_whole(path, bytes(envelope.original_content or b""))
        return "250 Kept"


async def _serve_smtp(folder: Path) -> None:
    keeper = _Keeper(folder)
    loop = asyncio.get_running_loop()
    server = await loop.create_server(
        lambda: SMTP(keeper, hostname="mail.example", enable_SMTPUTF8=True, loop=loop), "127.0.0.1", 0
    )
    sys.stdout.write(f"{server.sockets[0].getsockname()[1]}\n")
    sys.stdout.flush()
    await server.serve_forever()


@contextlib.contextmanager
def smtp(folder: Path | None = None) -> Iterator[SmtpServer]:
    """A mail server that delivers nowhere. Mail goes to `folder`, or to a folder removed at the end."""
    made = Path(tempfile.mkdtemp(prefix="desk-smtp-"))
    kept = folder or made
    # Started by its file, not by -m: the caller may stand in any folder.
    command = [
        *("setpriv", "--pdeathsig=KILL", "--"),
        *(sys.executable, "-P", str(Path(__file__).resolve()), "smtp-process", str(kept)),
    ]
    try:
        with subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
        ) as process:
            try:
                assert process.stdout is not None
                said = process.stdout.readline().strip()
                if not said:
                    raise ServerError("The mail server did not come up; what it said stands above.")
                yield SmtpServer("127.0.0.1", int(said), kept)
            finally:
                process.kill()
    finally:
        shutil.rmtree(made, ignore_errors=True)


# --- command line ---------------------------------------------------------------------------------
def _end(number: int, frame: object) -> None:
    sys.exit(128 + number)


def _around(names: Sequence[str], command: Sequence[str]) -> int:
    signal.signal(signal.SIGTERM, _end)
    environment = dict(os.environ)
    with contextlib.ExitStack() as stack:
        if "postgres" in names:
            environment["DATABASE_URL"] = stack.enter_context(postgres())
        if "redis" in names:
            environment["REDIS_URL"] = stack.enter_context(redis())
        with subprocess.Popen(["setpriv", "--pdeathsig=TERM", "--", *command], env=environment) as process:
            try:
                status = process.wait()
            except BaseException:
                process.terminate()
                raise
    return status if status >= 0 else 128 - status


def main(arguments: Sequence[str]) -> int:
    if len(arguments) == 2 and arguments[0] == "smtp-process":
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_serve_smtp(Path(arguments[1])))
        return 0
    at = arguments.index("--") if "--" in arguments else len(arguments)
    own, command = arguments[:at], arguments[at + 1 :]
    parser = argparse.ArgumentParser(
        prog="python -m tests.servers", description="Run a command with private servers beside it.",
        epilog="The command follows after --.",
    )  # fmt: skip
    parser.add_argument("servers", nargs="+", choices=["postgres", "redis"])
    names = parser.parse_args(own).servers
    if not command:
        parser.error("give the command after --")
    return _around(names, command)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
