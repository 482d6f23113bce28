"""Reads the YAML files of a rule set as plain entries, suspicious of size, nesting and repetition."""

from collections.abc import Hashable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from consults.ruleset.errors import Problem

MAX_FILE_BYTES = 1_000_000
MAX_NESTING = 20
TABLES = ("findings", "practices", "conditions", "cautions", "sources")


class RawEntry(NamedTuple):
    """An entry as it was written, with the file it stands in."""

    file: str
    value: Any


class _RefusedError(Exception):
    """A file cannot be used; the message says why."""


class _StrictLoader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """The safe loader, which also refuses a key given twice in one mapping."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        seen: set[Hashable] = set()
        for key_node, _ in node.value:
            key = self.construct_object(key_node, deep=True)
            if not isinstance(key, Hashable):
                raise _RefusedError(f"Line {key_node.start_mark.line + 1}: a key must be a plain word.")
            if key in seen:
                raise _RefusedError(
                    f"Line {key_node.start_mark.line + 1}: the key '{key}' is given twice. Keep one of them."
                )
            seen.add(key)
        mapping: dict[Hashable, Any] = super().construct_mapping(node, deep=deep)
        return mapping


def _check_shape(content: str) -> None:
    """Refuse aliases (they can multiply without end) and deep nesting before anything is built."""
    depth = 0
    for event in yaml.parse(content, Loader=_StrictLoader):
        if isinstance(event, yaml.AliasEvent):
            raise _RefusedError(f"YAML aliases (*{event.anchor}) are not allowed. Repeat the text.")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > MAX_NESTING:
                raise _RefusedError(f"Nested deeper than {MAX_NESTING} levels. Flatten it.")
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _read_yaml(path: Path) -> Any:
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_FILE_BYTES + 1)
    except OSError as error:
        raise _RefusedError(f"Cannot be read ({error.strerror}).") from error
    if len(raw) > MAX_FILE_BYTES:
        raise _RefusedError(
            f"Larger than {MAX_FILE_BYTES:,} bytes. Split it or remove what does not belong there."
        )
    try:
        content = raw.decode("utf-8")
        _check_shape(content)
        return yaml.load(content, Loader=_StrictLoader)  # noqa: S506 - a safe loader, only stricter
    except UnicodeDecodeError as error:
        raise _RefusedError(f"Not UTF-8 text at byte {error.start}. Save it as UTF-8.") from error
    except (yaml.YAMLError, ValueError) as error:  # ValueError: an impossible date, for instance
        raise _RefusedError(f"Not readable as YAML: {' '.join(str(error).split())}") from error


def _read_table(folder: Path, name: str, problems: list[Problem]) -> list[RawEntry] | None:
    file = f"{name}.yaml"
    try:
        value = _read_yaml(folder / file)
    except _RefusedError as refusal:
        problems.append(Problem(file, "", "", str(refusal)))
        return None
    if value is None:
        return []
    if not isinstance(value, list):
        problems.append(Problem(file, "", "", "Must hold a list of entries, each beginning with a dash."))
        return None
    return [RawEntry(file, entry) for entry in value]


def _read_causes(folder: Path, problems: list[Problem]) -> tuple[list[RawEntry], bool]:
    entries: list[RawEntry] = []
    complete = True
    paths = sorted((folder / "causes").iterdir()) if (folder / "causes").is_dir() else []
    for path in paths:
        file = f"causes/{path.name}"
        if path.suffix != ".yaml":
            if path.suffix in {".yml", ".json"}:
                problems.append(Problem(file, "", "", "Would be overlooked: give the file the ending .yaml."))
            continue
        try:
            value = _read_yaml(path)
        except _RefusedError as refusal:
            problems.append(Problem(file, "", "", str(refusal)))
            complete = False
            continue
        entries.append(RawEntry(file, value))
        code = value.get("code") if isinstance(value, Mapping) else None
        if isinstance(code, str) and code != path.stem:
            message = f"Found '{code}' in a file named '{path.name}'. The file is named after the code."
            problems.append(Problem(file, code, "code", message))
    if not paths:
        problems.append(Problem("causes", "", "", "There is no cause file. Add causes/<code>.yaml."))
    return entries, complete


def read_folder(folder: Path) -> tuple[dict[str, list[RawEntry]], set[str], list[Problem]]:
    """Return the entries of every table, the tables read only in part, and the problems met so far."""
    problems: list[Problem] = []
    tables: dict[str, list[RawEntry]] = {}
    partial: set[str] = set()
    for name in TABLES:
        entries = _read_table(folder, name, problems)
        tables[name] = entries or []
        if entries is None:
            partial.add(name)
    tables["causes"], complete = _read_causes(folder, problems)
    if not complete:
        partial.add("causes")
    return tables, partial, problems
