"""The site as a shop runs it: real server, hashed static files, its own data folder, the demo shop."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.servers import free_port

ROOT = Path(__file__).resolve().parents[2]
_UNSET = ("DATABASE_URL", "REDIS_URL", "EMAIL_URL", "ALLOWED_HOSTS", "SECRET_KEY", "DEBUG")


@contextmanager
def running_site(data_dir: Path, *, demo: bool = True) -> Iterator[str]:
    """The address of a served site with everything it keeps under `data_dir`; it ends with the block."""
    env = {name: value for name, value in os.environ.items() if name not in _UNSET}
    env |= {"DJANGO_SETTINGS_MODULE": "consults.project.settings.local", "DATA_DIR": str(data_dir)}
    env["SECRET_KEY"] = "only-for-this-run-" + "x" * 50
    for command in ("migrate --no-input", "collectstatic --no-input", *(["demo", "walkin"] if demo else [])):
        _manage(env, *command.split())
    port = free_port()
    server = subprocess.Popen(
        [
            *(sys.executable, "-m", "gunicorn", "--workers", "1", "--threads", "4"),
            *("--bind", f"127.0.0.1:{port}", "--log-level", "warning", "consults.project.wsgi:application"),
        ],
        cwd=ROOT,
        env=env,
    )
    try:
        health = ["docker/health.py", "--port", str(port), "--wait", "60", "--pid", str(server.pid)]
        subprocess.run([sys.executable, *health], cwd=ROOT, env=env, check=True, timeout=90)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=30)


def _manage(env: dict[str, str], *command: str) -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=ROOT,
        env=env,
        timeout=180,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"manage.py {' '.join(command)} failed:\n{done.stderr}")
