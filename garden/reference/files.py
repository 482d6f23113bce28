"""Reading reviewed data files strictly, and saying in one sentence what is wrong with one."""

import difflib
from collections.abc import Hashable
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

Model = TypeVar("Model", bound=BaseModel)


class ReferenceDataError(ValueError):
    """A data file says something that cannot be used; names the file, the entry and the field."""

    def __init__(self, file: str, entry: str, field: str, problem: str) -> None:
        self.file, self.entry, self.field, self.problem = file, entry, field, problem
        super().__init__(f"In {file}, entry “{entry}”, field “{field}”: {problem.rstrip('.')}.")


class _StrictLoader(yaml.SafeLoader):
    """Safe loading that refuses a key written twice, which YAML would silently overwrite."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        seen: set[Hashable] = set()
        for key_node, _ in node.value:
            key = self.construct_object(key_node, deep=True)
            if key in seen:
                line = key_node.start_mark.line + 1
                raise yaml.YAMLError(f"the key {key!r} is written twice, the second time on line {line}")
            seen.add(key)
        return super().construct_mapping(node, deep)


def read_yaml(path: Path) -> Any:
    """Return the content of a YAML file as plain Python values.

    Raises ReferenceDataError when the file is missing, unreadable as YAML, or writes a key twice.
    """
    try:
        # _StrictLoader derives from SafeLoader: no objects are built from the file.
        return yaml.load(path.read_text(encoding="utf-8"), Loader=_StrictLoader)  # noqa: S506
    except FileNotFoundError as error:
        raise ReferenceDataError(path.name, "-", "-", "the file does not exist") from error
    except yaml.YAMLError as error:
        problem = " ".join(str(error).split())
        raise ReferenceDataError(path.name, "-", "-", f"it is not valid YAML: {problem}") from error


def build(model: type[Model], raw: object, file: str, entry: str) -> Model:
    """Return `raw` validated as `model`; raises ReferenceDataError for the first thing that is wrong."""
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        raise _explain(error, raw, file, entry) from error


def build_list(model: type[Model], raw: object, file: str, key: str = "code") -> dict[str, Model]:
    """Return the entries of a list file by their `key`, in file order.

    Raises ReferenceDataError when the file is not a list of mappings, when an entry does not fit `model`,
    or when two entries share a `key`.
    """
    if not isinstance(raw, list):
        raise ReferenceDataError(file, "-", "-", "the file must hold a list of entries")
    entries: dict[str, Model] = {}
    for number, item in enumerate(raw, start=1):
        name = str(item[key]) if isinstance(item, dict) and key in item else f"number {number}"
        built = build(model, item, file, name)
        if name in entries:
            raise ReferenceDataError(file, name, key, "two entries have this name; give each its own")
        entries[name] = built
    return entries


def _explain(error: ValidationError, raw: object, file: str, entry: str) -> ReferenceDataError:
    problems = error.errors(include_url=False)
    # A misspelt key causes two problems, one unknown and one missing field: the unknown one helps more.
    first = next((item for item in problems if item["type"] == "extra_forbidden"), problems[0])
    location = [str(part) for part in first["loc"]]
    field = ".".join(location) or "-"
    if first["type"] == "extra_forbidden":
        absent = [str(item["loc"][-1]) for item in problems if item["type"] == "missing"]
        close = difflib.get_close_matches(location[-1], absent, n=1) if absent else []
        hint = f"; did you mean “{close[0]}”" if close else "; remove it or correct its spelling"
        return ReferenceDataError(file, entry, field, f"no such field is known here{hint}")
    if first["type"] == "missing":
        return ReferenceDataError(file, entry, field, "it is required and missing")
    message = str(first["msg"]).removeprefix("Value error, ")
    return ReferenceDataError(
        file, entry, field, f"found {first['input']!r}; {message[:1].lower()}{message[1:]}"
    )
