"""The folder of a backup: its files, their hashes, its manifest. Knows nothing of tables.

manifest.json          what there is, with a seal over itself; written last, so that half a backup has none
tables/NAME.jsonl.gz   a table, a row a line
files.jsonl            path, SHA-256 and size of every file below
private/…              photos and documents
outgoing/…             mails kept as files
"""

import gzip
import hashlib
import io
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePosixPath
from typing import IO, Any

from django.utils.translation import gettext as _

FORMAT = 1
MANIFEST, FILES = "manifest.json", "files.jsonl"
_PIECE = 1 << 18
_ROOTS = {"private", "outgoing"}


class BackupError(Exception):
    """The backup cannot be made or used; the message says why and what to do."""


def create(path: Path) -> IO[bytes]:
    """A new file that only this account reads."""
    _private_folder(path.parent)
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def _private_folder(folder: Path) -> None:
    if not folder.is_dir():
        _private_folder(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)


class _Hashing(io.RawIOBase):
    """Passes on what is written, and knows its hash."""

    def __init__(self, target: IO[bytes]) -> None:
        self.target, self.sha256, self.size = target, hashlib.sha256(), 0

    def writable(self) -> bool:
        return True

    def write(self, piece: Any) -> int:
        self.sha256.update(piece)
        self.size += len(piece)
        return self.target.write(piece)


def copy_to(source: IO[bytes], path: Path) -> dict[str, Any]:
    """Copy piece by piece into a new file; returns its hash and size."""
    with create(path) as file:
        out = _Hashing(file)
        while piece := source.read(_PIECE):
            out.write(piece)
    return {"sha256": out.sha256.hexdigest(), "bytes": out.size}


def write_lines(lines: Iterable[str], path: Path) -> dict[str, Any]:
    """Write lines, packed; returns how many, and hash and size of the file."""
    count = 0
    with create(path) as file:
        out = _Hashing(file)
        with gzip.GzipFile(filename="", fileobj=out, mode="wb", mtime=0) as packed:
            for line in lines:
                packed.write(line.encode() + b"\n")
                count += 1
    return {"rows": count, "sha256": out.sha256.hexdigest(), "bytes": out.size}


def read_lines(path: Path) -> Iterator[str]:
    """The lines of a packed file, one at a time. Raises BackupError when it cannot be unpacked."""
    try:
        with gzip.open(path, "rt", encoding="utf-8", newline="\n") as lines:
            for line in lines:
                yield line.rstrip("\n")
    except (OSError, EOFError, UnicodeDecodeError) as error:
        raise BackupError(_("%(file)s in the backup is damaged.") % {"file": path.name}) from error


def hash_of(path: Path) -> dict[str, Any]:
    """Hash and size of a file. Raises BackupError when it is not there."""
    sha256, size = hashlib.sha256(), 0
    try:
        with path.open("rb") as file:
            while piece := file.read(_PIECE):
                sha256.update(piece)
                size += len(piece)
    except OSError as error:
        raise BackupError(
            _("The backup is incomplete: %(file)s is missing or cannot be read.") % {"file": path.name}
        ) from error
    return {"sha256": sha256.hexdigest(), "bytes": size}


# --- the manifest ---------------------------------------------------------------------------------
def _seal(content: dict[str, Any]) -> str:
    plain = json.dumps({**content, "seal": None}, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(plain.encode()).hexdigest()


def write_manifest(folder: Path, content: dict[str, Any]) -> None:
    raw = json.dumps({**content, "seal": _seal(content)}, indent=1, ensure_ascii=False).encode()
    part = folder / (MANIFEST + ".part")
    with create(part) as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    part.replace(folder / MANIFEST)


def read_manifest(folder: Path) -> dict[str, Any]:
    """The manifest of a backup. Raises BackupError when there is none, it is damaged, or of another kind."""
    path = folder / MANIFEST
    if not path.is_file():
        raise BackupError(
            _("%(folder)s is no backup, or one that was broken off: it has no %(name)s.")
            % {"folder": folder, "name": MANIFEST}
        )
    try:
        content = json.loads(path.read_bytes())
        sound = isinstance(content, dict) and content.get("seal") == _seal(content)
    except ValueError:
        sound = False
    if not sound:
        raise BackupError(_("%(name)s of the backup is damaged.") % {"name": MANIFEST})
    if content.get("desk_backup") != FORMAT:
        raise BackupError(
            _("This backup has the form %(found)s; this program reads form %(known)d.")
            % {"found": content.get("desk_backup"), "known": FORMAT}
        )
    return dict(content)


# --- checking -------------------------------------------------------------------------------------
def check_file(folder: Path, name: str, told: dict[str, Any]) -> None:
    """Raise BackupError unless the file is what the manifest tells."""
    found = hash_of(folder / name)
    if found != {"sha256": told["sha256"], "bytes": told["bytes"]}:
        raise BackupError(_("%(file)s in the backup is damaged: it was changed or cut off.") % {"file": name})


def safe_path(name: str) -> PurePosixPath:
    """A path inside the backup. Raises BackupError for one that would lead out of it."""
    path = PurePosixPath(name)
    if (
        path.is_absolute()
        or ".." in path.parts
        or not path.parts
        or path.parts[0] not in {"private", "outgoing"}
    ):
        raise BackupError(_("The backup names a file outside of it: %(file)s.") % {"file": name})
    return path


def listed_files(folder: Path) -> Iterator[dict[str, Any]]:
    """Every file the backup holds, one at a time."""
    with (folder / FILES).open(encoding="utf-8") as lines:
        for line in lines:
            entry = json.loads(line)
            safe_path(entry["path"])
            yield entry
