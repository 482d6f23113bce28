"""The rules as a zip of the reviewed text files, out and in: `causes/<code>.yaml`, `findings.yaml` …

What comes in may be hostile: nothing is unpacked under a name that is not known, nothing larger than a file
of rules may be. YAML is read by the same strict, safe reader as the bundled files.
"""

import io
import json
import re
import tempfile
import zipfile
import zlib
from pathlib import Path
from typing import IO, Any

import yaml

from consults.rules.tables import MODELS, Tables, dump, key_of, normal
from consults.ruleset.errors import Problem, RulesetError
from consults.ruleset.files import MAX_FILE_BYTES, TABLES, RawEntry, read_folder
from consults.ruleset.loader import MAX_JSON_BYTES, Ruleset, reference_codes

MAX_ZIP_BYTES = 4_000_000
MAX_UNPACKED_BYTES = MAX_JSON_BYTES
MAX_FILES = 1000
_CAUSE = re.compile(r"causes/[a-z0-9]+(-[a-z0-9]+)*\.yaml")
_PLAIN = frozenset(f"{table}.yaml" for table in TABLES)
_STAMP = (2000, 1, 1, 0, 0, 0)  # the same content gives the same file, byte for byte


class _Dumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """Writes without aliases, which the reader refuses."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def write_zip(tables: Tables) -> bytes:
    """The tables as a zip of YAML files in the layout of the bundled rules."""
    ordered: Tables = json.loads(dump(tables))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for cause in ordered["causes"]:
            _write(archive, f"causes/{cause['code']}.yaml", _in_order("causes", cause))
        for table in TABLES:
            _write(archive, f"{table}.yaml", [_in_order(table, entry) for entry in ordered[table]])
    return buffer.getvalue()


def _write(archive: zipfile.ZipFile, name: str, value: Any) -> None:
    content = yaml.dump(value, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)
    info = zipfile.ZipInfo(name, _STAMP)
    info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
    archive.writestr(info, content)


def _in_order(table: str, entry: dict[str, Any]) -> dict[str, Any]:
    """The keys as the schema has them, so that a file reads from name to details."""
    return {name: entry[name] for name in MODELS[table].model_fields if name in entry}


def read_upload(stream: IO[bytes]) -> Tables:
    """The tables in an uploaded zip or JSON text, every entry whole by itself.

    Raises RulesetError with every problem of reading or of a single entry; what does not fit between entries
    may be mended in the draft and is not looked at.
    """
    head = stream.read(4)
    stream.seek(0)
    if head[:2] == b"PK":
        return _read_zip(stream)
    raw = stream.read(MAX_JSON_BYTES + 1)
    try:
        content = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RulesetError(
            [
                Problem(
                    "", "", "", "This file is not text in UTF-8, and no zip either. Export the rules again."
                )
            ]
        ) from None
    return tables_of_json(content)


def tables_of_json(content: str) -> Tables:
    """The tables in a JSON text, as `read_upload`."""
    problems: tuple[Problem, ...] = ()
    try:
        Ruleset.from_json(content, reference_codes())
    except RulesetError as error:
        problems = error.problems
    try:
        found = json.loads(content)
        return {name: _unique(name, [normal(name, entry) for entry in found[name]]) for name in MODELS}
    except (
        ValueError,
        TypeError,
        KeyError,
        AttributeError,
        RecursionError,
    ):  # pydantic's error is a ValueError
        raise RulesetError(problems or [Problem("", "", "", "This is no rule set.")]) from None


def _unique(name: str, entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    if len({key_of(entry) for entry in entries}) != len(entries):
        raise ValueError(name)
    return entries


def _read_zip(stream: IO[bytes]) -> Tables:
    with tempfile.TemporaryDirectory(prefix="rules-") as folder:
        _unpack(stream, Path(folder))
        raw, partial, problems = read_folder(Path(folder))
    if partial or problems:
        raise RulesetError(problems)
    try:
        content = json.dumps({name: [_plain(entry) for entry in raw[name]] for name in MODELS})
    except (TypeError, ValueError) as error:  # a date, a set, bytes: YAML knows more than rules do
        raise RulesetError(
            [Problem("", "", "", f"Only words, numbers and lists are read: {error}")]
        ) from None
    return tables_of_json(content)


def _plain(entry: RawEntry) -> Any:
    return entry.value


def _unpack(stream: IO[bytes], folder: Path) -> None:
    """Write the known files of a zip below `folder`. Raises RulesetError, having written nothing foreign."""
    try:
        with zipfile.ZipFile(stream) as archive:
            members = _members(archive)
            left = MAX_UNPACKED_BYTES
            for name, info in members.items():
                # What the directory of a zip says of sizes may be a lie: count what really comes out.
                with archive.open(info) as member:
                    content = member.read(min(MAX_FILE_BYTES, left) + 1)
                left -= len(content)
                if len(content) > MAX_FILE_BYTES or left < 0:
                    raise _refused(name, "Unpacked it is larger than rules are. Nothing was read.")
                target = folder / name
                target.parent.mkdir(exist_ok=True)
                target.write_bytes(content)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        raise _refused("", f"This zip cannot be read: {error}") from None
    except (RuntimeError, UnicodeError) as error:  # a password, another packing, names nobody can write
        raise _refused("", f"This zip cannot be read: {error}") from None


def _members(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The files of a zip by name, without one folder that holds them all. Raises RulesetError."""
    infos = [info for info in archive.infolist() if not info.is_dir()]
    if len(infos) > MAX_FILES:
        raise _refused("", f"It holds {len(infos)} files; rules have at most {MAX_FILES}.")
    names = [info.filename for info in infos]
    tops = {name.partition("/")[0] for name in names}
    top = f"{next(iter(tops))}/" if len(tops) == 1 and tops != {"causes"} and "/" in names[0] else ""
    found: dict[str, zipfile.ZipInfo] = {}
    for name, info in zip(names, infos, strict=True):
        short = name[len(top) :]
        if short not in _PLAIN and not (_CAUSE.fullmatch(short) and len(short) <= 100):
            raise _refused(name[:100], "No file of a rule set is called so. Remove it from the zip.")
        if short in found:
            raise _refused(short, "It stands in the zip twice. Keep one of them.")
        if info.file_size > MAX_FILE_BYTES:
            raise _refused(short, f"Larger than {MAX_FILE_BYTES:,} bytes.")
        found[short] = info
    if sum(info.file_size for info in infos) > MAX_UNPACKED_BYTES:
        raise _refused("", f"Unpacked it is larger than {MAX_UNPACKED_BYTES:,} bytes.")
    return found


def _refused(file: str, message: str) -> RulesetError:
    return RulesetError([Problem(file, "", "", message)])


def ruleset_of(tables: Tables) -> Ruleset:
    """The whole rule set these tables are. Raises RulesetError with all that does not fit."""
    return Ruleset.from_json(dump(tables), reference_codes())
