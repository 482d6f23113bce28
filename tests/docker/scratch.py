"""Copies of the project to run its scripts in, with their own var/ and no network needed."""

import hashlib
import os
import platform
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_NOT_COPIED = shutil.ignore_patterns(
    ".git", ".venv", "var", "mutants", "test-results", "__pycache__", ".*_cache", ".hypothesis"
)


def copy_project(to: Path, *, environment: bool = True) -> Path:
    """The project at `to`; with `environment` it has the virtual environment of this very run."""
    shutil.copytree(ROOT, to, ignore=_NOT_COPIED)
    if environment:
        (to / ".venv").mkdir()
        for part in Path(sys.prefix).iterdir():
            if not part.name.startswith("installed-"):
                (to / ".venv" / part.name).symlink_to(part)
        mark_installed(to, "run", "requirements.txt")
        mark_installed(to, "test", "requirements-test.txt")
    return to


def mark_installed(project: Path, name: str, lock: str) -> None:
    """Says what setup.sh says after installing this lock."""
    digest = hashlib.sha256((project / "docker" / lock).read_bytes()).hexdigest()
    stamp = project / ".venv" / f"installed-{name}"
    stamp.write_text(f"Python {platform.python_version()} {digest}  -\n")


def tools(folder: Path, *, without: Iterable[str] = (), stubs: Mapping[str, str] | None = None) -> Path:
    """A folder for PATH: this machine's programs except some, with `stubs` (name: shell script) instead.

    Package managers, sudo and every Python are left out always.
    """
    folder.mkdir()
    hidden = ("apt", "sudo", "python", *without)
    for place in [*os.defpath.split(os.pathsep), "/usr/local/bin"]:
        for program in Path(place).glob("*") if place.startswith("/") else ():
            link = folder / program.name
            if not program.name.startswith(hidden) and not link.is_symlink():
                link.symlink_to(program)
    for name, script in (stubs or {}).items():
        (folder / name).unlink(missing_ok=True)
        (folder / name).write_text(f"#!/bin/sh\n{script}\n")
        (folder / name).chmod(0o755)
    return folder


def sh(
    *arguments: str | Path, cwd: Path, env: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Runs `sh ARGUMENTS…` to its end; `env` is added to the environment."""
    return subprocess.run(
        ["/bin/sh", *map(str, arguments)],
        cwd=cwd,
        env={**os.environ, **(env or {})},
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        timeout=180,
    )
