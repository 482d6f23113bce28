"""The shape of a check: one published value and the call that should give it.

Check files stand in garden/reference/checks, one a topic, each a list of entries. They are read strictly:
what is wrong with one is said in one sentence that names the file, the entry and the field.
"""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import Field

import garden.reference
from garden.reference.files import ReferenceDataError, build_list, read_yaml
from garden.reference.schema import Code, Entry

CHECKS_FOLDER = Path(garden.reference.__file__).parent / "checks"
STATUSES = ("read", "read-in-copy", "memory", "computed", "common-practice")
COUNTED_AS_READ = ("read", "read-in-copy")

Status = Literal["read", "read-in-copy", "memory", "computed", "common-practice"]
Pick = str | int | tuple[str | int, ...]
CallName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*\.[A-Za-z_][A-Za-z0-9_]*$")]


class Check(Entry):
    """A published value, the call of the science that should give it, and how far it may miss.

    `pick` takes one part of what the call returns (an attribute, a key or a place in a list, several after
    one another); `scale` is what the result is multiplied by to stand in `unit`. A value among `args` that
    is a mapping with `call` is called first in the same way. Rows of one published table carry the same
    words in `source`.
    """

    id: Code
    topic: Code
    call: CallName
    args: Mapping[str, Any] = Field(default_factory=dict)
    pick: Pick | None = None
    scale: float | None = None
    expected: float
    tolerance: float = Field(gt=0)
    unit: str
    source: str = Field(min_length=12)
    status: Status
    note: str | None = None


def load_checks(folder: Path = CHECKS_FOLDER) -> Mapping[str, Check]:
    """Return every check of a folder by its id, in the order of the files and their entries.

    Raises ReferenceDataError when a file cannot be read, when an entry does not fit, when its topic is not
    the file's name, or when two entries anywhere share an id.
    """
    checks: dict[str, Check] = {}
    homes: dict[str, str] = {}
    for path in sorted(folder.glob("*.yaml")):
        name = f"checks/{path.name}"
        for key, check in build_list(Check, read_yaml(path), name, key="id").items():
            if check.topic != path.stem:
                problem = f"found {check.topic!r}; it must be the file's name"
                raise ReferenceDataError(name, key, "topic", problem)
            if key in checks:
                problem = f"{homes[key]} has an entry of this name already; give each its own"
                raise ReferenceDataError(name, key, "id", problem)
            checks[key], homes[key] = check, name
    return MappingProxyType(checks)
