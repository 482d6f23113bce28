"""Loads, checks and writes rule sets. Bundled files and versions edited in the shop pass the same checks."""

import functools
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from consults.ruleset.crosscheck import KnownCodes, Placed, crosscheck
from consults.ruleset.errors import Problem, RulesetError
from consults.ruleset.files import TABLES, RawEntry, read_folder
from consults.ruleset.schema import Cause, Caution, Condition, Finding, Practice
from garden.reference.loader import bundled_reference
from garden.reference.schema import Source

MAX_JSON_BYTES = 8_000_000

_MODELS: dict[str, type[BaseModel]] = {
    "causes": Cause,
    "findings": Finding,
    "practices": Practice,
    "conditions": Condition,
    "cautions": Caution,
    "sources": Source,
}
_E = TypeVar("_E", bound=BaseModel)


@dataclass(frozen=True, eq=False)
class Ruleset:
    """A whole rule set, checked. Mappings are read-only, by code, in the order of the codes."""

    causes: Mapping[str, Cause]
    findings: Mapping[str, Finding]
    practices: Mapping[str, Practice]
    conditions: Mapping[str, Condition]
    cautions: Mapping[str, Caution]
    sources: Mapping[str, Source]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Ruleset) and self.version == other.version

    def __hash__(self) -> int:
        return hash(self.version)

    @functools.cached_property
    def version(self) -> str:
        """The first 12 hexadecimal digits of the SHA-256 of `to_json()`: equal content, equal version."""
        return hashlib.sha256(self.to_json().encode()).hexdigest()[:12]

    def to_json(self) -> str:
        """Return the whole rule set as canonical JSON: sorted keys, no spaces, entries in order of code."""
        tables = {
            name: [entry.model_dump(mode="json") for entry in getattr(self, name).values()]
            for name in _MODELS
        }
        return json.dumps(tables, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    @classmethod
    def from_json(cls, content: str, known: KnownCodes | None = None) -> "Ruleset":
        """Return the rule set written by `to_json`.

        Raises `RulesetError` with every problem: not JSON, over 8 MB, unknown table, bad entry, unknown
        code.
        """
        return _assemble(*_tables_of_json(content), known)

    def cause_code(self, code: str) -> str | None:
        """Return the present code of a cause given its code or an alias, or None when nothing bears it."""
        if code in self.causes:
            return code
        return next((cause.code for cause in self.causes.values() if code in cause.aliases), None)


def load_folder(path: Path, known: KnownCodes | None = None) -> Ruleset:
    """Return the rule set in the folder `path`.

    `known` holds the codes of the garden's reference data; without it readings and contexts are not checked
    against them. Raises `RulesetError` naming every problem with its file, entry and field.
    """
    tables, partial, problems = read_folder(Path(path))
    return _assemble(tables, partial, problems, known)


@functools.cache
def load_bundled() -> Ruleset:
    """Return the rule set that comes with the program (read once). Raises `RulesetError`."""
    return load_folder(Path(__file__).parent, reference_codes())


@functools.cache
def reference_codes() -> KnownCodes:
    """Return the codes of the bundled reference data, against which readings and contexts are checked.

    A shop's own crops are not among them: rules speak of the crop an own one is made from.
    """
    reference = bundled_reference()
    kinds = (getattr(reference, kind) for kind in KnownCodes._fields)
    return KnownCodes(*(frozenset(mapping) for mapping in kinds))


def _tables_of_json(content: str) -> tuple[dict[str, list[RawEntry]], set[str], list[Problem]]:
    file = "ruleset.json"
    if len(content.encode("utf-8", "surrogatepass")) > MAX_JSON_BYTES:
        raise RulesetError([Problem(file, "", "", f"Larger than {MAX_JSON_BYTES:,} bytes.")])
    try:
        value = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise RulesetError([Problem(file, "", "", f"Not readable as JSON: {error}")]) from error
    if not isinstance(value, dict):
        raise RulesetError([Problem(file, "", "", f"Must be an object with {', '.join(_MODELS)}.")])
    problems = [
        Problem(file, "", str(key), f"Not a table of a rule set. Allowed are {', '.join(_MODELS)}.")
        for key in value.keys() - _MODELS.keys()
    ]
    tables: dict[str, list[RawEntry]] = {}
    partial: set[str] = set()
    for name in _MODELS:
        entries = value.get(name)
        if not isinstance(entries, list):
            problems.append(Problem(file, "", name, "Must be a list of entries."))
            partial.add(name)
            entries = []
        tables[name] = [RawEntry(f"{file} {name}", entry) for entry in entries]
    return tables, partial, problems


def _assemble(
    raw: Mapping[str, list[RawEntry]], partial: set[str], problems: list[Problem], known: KnownCodes | None
) -> Ruleset:
    tables = {name: _validated(name, raw[name], problems) for name in _MODELS}
    names: dict[str, frozenset[str] | None] = {
        name: None if name in partial else _written_codes(raw[name]) for name in (*TABLES, "causes")
    }
    names["actions"] = _written_codes(
        RawEntry(file, action)
        for file, value in raw["causes"]
        if isinstance(value, Mapping) and isinstance(value.get("actions"), list)
        for action in value["actions"]
    )
    problems.extend(crosscheck(tables, names, known))
    if problems:
        raise RulesetError(problems)
    return Ruleset(
        causes=_by_code(tables["causes"], Cause),
        findings=_by_code(tables["findings"], Finding),
        practices=_by_code(tables["practices"], Practice),
        conditions=_by_code(tables["conditions"], Condition),
        cautions=_by_code(tables["cautions"], Caution),
        sources=_by_code(tables["sources"], Source),
    )


def _by_code(placed: list[Placed], kind: type[_E]) -> Mapping[str, _E]:
    entries = {_code(entry): entry for _, entry in placed if isinstance(entry, kind)}
    return MappingProxyType(dict(sorted(entries.items())))


def _code(entry: BaseModel) -> str:
    return str(entry.id if isinstance(entry, Source) else getattr(entry, "code", ""))


def _written_code(value: Any) -> str | None:
    if not isinstance(value, Mapping):
        return None
    code = value.get("code", value.get("id"))
    return code if isinstance(code, str) else None


def _written_codes(entries: Iterable[RawEntry]) -> frozenset[str]:
    """Codes as written, also of entries that are otherwise wrong, so that one mistake is reported once."""
    return frozenset(code for _, value in entries if (code := _written_code(value)) is not None)


def _validated(name: str, entries: list[RawEntry], problems: list[Problem]) -> list[Placed]:
    placed: list[Placed] = []
    first: dict[str, str] = {}
    for at, (file, value) in enumerate(entries, start=1):
        label = _written_code(value) or f"entry {at}"
        if not isinstance(value, Mapping):
            problems.append(Problem(file, label, "", "Must be a mapping of keys to values."))
            continue
        try:
            entry = _MODELS[name].model_validate(value)
        except ValidationError as error:
            problems.extend(_explained(file, label, detail) for detail in error.errors(include_url=False))
            continue
        code = _code(entry)
        if code in first:
            problems.append(Problem(file, code, "code", f"Already given in {first[code]}. Keep one of them."))
        first.setdefault(code, file)
        placed.append(Placed(file, entry))
    return placed


def _explained(file: str, entry: str, detail: ErrorDetails) -> Problem:
    field = ".".join(str(part) for part in detail["loc"] if part != "[key]")
    found = repr(detail["input"])
    found = found if len(found) <= 60 else f"{found[:57]}..."
    if detail["type"] == "extra_forbidden":
        message = "This key is not known here. Remove it or correct its spelling."
        if detail["loc"][-1] == "no source":
            message = (
                'A comma ends a value inside braces. Write source: "common practice, no source" in quotes.'
            )
    elif detail["type"] == "missing":
        message = "This key is missing. Add it."
    elif detail["type"] == "value_error":
        message = str(detail["ctx"]["error"])
    else:
        message = f"Found {found}. {detail['msg']}."
    return Problem(file, entry, field, message)
