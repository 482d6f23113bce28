"""Holds the science against published values: every check is run and set beside its source."""

import inspect
import pkgutil
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import garden.agronomy
from garden.bench.checks import COUNTED_AS_READ, STATUSES, Check, Pick, load_checks
from garden.reference.files import ReferenceDataError

REPORT_FILE = Path(garden.agronomy.__file__).parent / "ACCURACY.md"
# A value on the very edge of its tolerance must not fail for the last bit of a sum.
_LAST_BITS = 1e-9


@dataclass(frozen=True)
class Row:
    """One check that was run: the published value, ours, and whether they agree."""

    id: str
    topic: str
    expected: float
    got: float
    tolerance: float
    unit: str
    ok: bool
    source: str
    status: str
    note: str

    def as_json(self) -> dict[str, object]:
        """Return the row as the fields that the command prints as JSON."""
        names = ("id", "topic", "expected", "got", "tolerance", "ok", "source", "status")
        return {name: getattr(self, name) for name in names}


def run_checks(checks: Mapping[str, Check] | None = None) -> list[Row]:
    """Return a row for every check (the bundled ones unless others are given), in order.

    Raises ReferenceDataError, naming file, entry and field, when a check calls something that is not part
    of the science, passes it what it does not take, or picks what is not there.
    """
    return [_run(check) for check in (load_checks() if checks is None else checks).values()]


def counts_by_status(rows: Iterable[Row]) -> dict[str, int]:
    """Return how many rows have each status, every status named."""
    found = Counter(row.status for row in rows)
    return {status: found[status] for status in STATUSES}


def counted_by_topic(rows: Iterable[Row]) -> dict[str, int]:
    """Return how many rows each topic has; rows computed by ourselves are not evidence and don't count."""
    topics = Counter({row.topic: 0 for row in rows})
    topics.update(row.topic for row in rows if row.status != "computed")
    return dict(topics)


def rows_read(rows: Iterable[Row]) -> int:
    """Return how many rows were read at the source or in a copy of it."""
    return sum(row.status in COUNTED_AS_READ for row in rows)


def failures(rows: Iterable[Row]) -> list[Row]:
    """Return the rows that miss the published value by more than their tolerance."""
    return [row for row in rows if not row.ok]


def report(rows: Sequence[Row]) -> str:
    """Return the accuracy table as Markdown, the same on every machine."""
    lines = [
        "# Accuracy",
        "",
        "Written by `manage.py accuracy --write`; do not edit. Every row sets a published value beside what",
        "this program computes. Rows quoted from memory are marked; rows computed by ourselves guard against",
        "change, are no outside evidence, and are not counted.",
        "",
    ]
    statuses = ", ".join(f"{count} {status}" for status, count in counts_by_status(rows).items() if count)
    topics = counted_by_topic(rows)
    missed = len(failures(rows))
    lines += [
        f"{sum(topics.values())} rows counted over {len(topics)} topics ({statuses}); "
        f"{missed or 'none'} outside tolerance.",
        "",
    ]
    for topic, count in topics.items():
        lines += [f"## {topic.replace('-', ' ').capitalize()} ({count})", ""]
        lines += ["| check | published | ours | difference | tolerance | unit | status | source |"]
        lines += ["|---|---:|---:|---:|---:|---|---|---|"]
        lines += [_line(row) for row in rows if row.topic == topic]
        lines += [""]
    return "\n".join(lines)


def short(value: float) -> str:
    """Return a number in at most five figures, without the last bits that differ between machines."""
    written = f"{value:.5g}"
    return "0" if float(written) == 0 else written


def _line(row: Row) -> str:
    marks = {"memory": "**from memory**", "computed": "computed, not counted"}
    status = marks.get(row.status, row.status)
    source = f"{row.source} ({row.note})" if row.note else row.source
    # A difference far below the tolerance is rounding: it is shown to a hundredth of the tolerance.
    step = row.tolerance / 100
    difference = short(round((row.got - row.expected) / step) * step)
    verdict = "" if row.ok else " **outside**"
    cells = (
        row.id,
        f"{row.expected:.6g}",
        short(row.got) + verdict,
        difference,
        f"{row.tolerance:.4g}",
        row.unit,
        status,
        source.replace("|", "\\|"),
    )
    return "| " + " | ".join(cells) + " |"


def _run(check: Check) -> Row:
    got = _call(check, "call", check.call, check.args, check.pick)
    if isinstance(got, bool) or not isinstance(got, int | float):
        raise _wrong(check, "pick", f"the result is {type(got).__name__}; pick one number of it")
    value = float(got) * (1.0 if check.scale is None else check.scale)
    allowed = check.tolerance * (1 + _LAST_BITS) + _LAST_BITS * abs(check.expected)
    return Row(
        id=check.id,
        topic=check.topic,
        expected=check.expected,
        got=value,
        tolerance=check.tolerance,
        unit=check.unit,
        ok=abs(value - check.expected) <= allowed,
        source=check.source,
        status=check.status,
        note=check.note or "",
    )


@cache
def _modules() -> dict[str, ModuleType]:
    package = garden.agronomy
    names = (found.name for found in pkgutil.iter_modules(package.__path__) if not found.name.startswith("_"))
    return {name: import_module(f"{package.__name__}.{name}") for name in names}


def _callable(check: Check, field: str, name: str) -> Callable[..., Any]:
    module_name, _, wanted = name.partition(".")
    module = _modules().get(module_name)
    if module is None:
        raise _wrong(check, field, f"found {name!r}; the modules are {', '.join(sorted(_modules()))}")
    target = getattr(module, wanted, None)
    own = getattr(target, "__module__", None) == module.__name__
    if wanted.startswith("_") or not own or not (inspect.isfunction(target) or inspect.isclass(target)):
        raise _wrong(check, field, f"found {name!r}; that module has no such public function")
    return target


def _call(
    check: Check, field: str, name: str, args: Mapping[str, Any], pick: Pick | list[str | int] | None
) -> Any:
    target = _callable(check, field, name)
    values = {key: _value(check, f"args.{key}", given) for key, given in args.items()}
    try:
        result = target(**values)
    except (TypeError, ValueError, KeyError) as error:
        raise _wrong(check, "args", f"{name} refused them: {error}") from error
    path = pick if isinstance(pick, tuple | list) else [] if pick is None else [pick]
    for part in path:
        try:
            result = _part(result, part)
        except (AttributeError, KeyError, IndexError, TypeError) as error:
            raise _wrong(check, "pick", f"found {part!r}; {name} returns no such part") from error
    return result


def _value(check: Check, field: str, given: Any) -> Any:
    if isinstance(given, Mapping):
        if "call" in given and set(given) <= {"call", "args", "pick"}:
            return _call(check, field, given["call"], given.get("args", {}), given.get("pick"))
        return {key: _value(check, f"{field}.{key}", item) for key, item in given.items()}
    if isinstance(given, list | tuple):
        return [_value(check, field, item) for item in given]
    return given


def _part(result: Any, part: str | int) -> Any:
    if isinstance(part, int) or isinstance(result, Mapping):
        return result[part]
    if part.startswith("_"):
        raise AttributeError(part)
    return getattr(result, part)


def _wrong(check: Check, field: str, problem: str) -> ReferenceDataError:
    return ReferenceDataError(f"checks/{check.topic}.yaml", check.id, field, problem)
