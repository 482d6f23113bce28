"""What two contents of the rules differ in, in words, line by line."""

from dataclasses import dataclass
from typing import NamedTuple

from django.utils.translation import gettext as _

from consults.rules import words
from consults.rules.describe import Line, Names, lines_of, name_of
from consults.rules.tables import MODELS, Entry, Tables, key_of


class Difference(NamedTuple):
    """One line that is not as it was; `before` or `after` is empty where there was or is nothing."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class EntryDifferences:
    """An entry that was added, removed or changed. `heir` is the cause that a removed one goes on as."""

    table: str
    kind_of: str
    code: str
    name: str
    change: str  # added, removed, changed
    lines: tuple[Difference, ...]
    heir: str = ""


def differences(before: Tables, after: Tables) -> list[EntryDifferences]:
    """Every entry that differs, in the order of the tables and of the names; an added one is told in full."""
    names = Names.of(after, before)
    found = []
    for table in MODELS:
        old = {key_of(entry): entry for entry in before[table]}
        new = {key_of(entry): entry for entry in after[table]}
        changed = [code for code in {**old, **new} if old.get(code) != new.get(code)]
        entries = [_entry(table, code, old.get(code), new.get(code), names, after) for code in changed]
        found += sorted(entries, key=lambda entry: entry.name.casefold())
    return found


def line_differences(old: list[Line], new: list[Line]) -> tuple[Difference, ...]:
    """Lines that differ, by key: changed and removed ones in the old order, then those that came."""
    was, now = {line.key: line for line in old}, {line.key: line for line in new}
    changed = [
        Difference(line.label, line.said, now[key].said if key in now else "")
        for key, line in was.items()
        if (now[key].said if key in now else "") != line.said
    ]
    came = [
        Difference(line.label, "", line.said) for key, line in now.items() if key not in was and line.said
    ]
    return (*changed, *came)


def _entry(
    table: str, code: str, old: Entry | None, new: Entry | None, names: Names, after: Tables
) -> EntryDifferences:
    lines = line_differences(
        lines_of(table, old, names) if old else [], lines_of(table, new, names) if new else []
    )
    if old and new and not lines:
        lines = (Difference(_("Other details"), _("as before"), _("changed")),)
    heirs = [cause for cause in after["causes"] if code in cause["aliases"]] if table == "causes" else []
    return EntryDifferences(
        table=table,
        kind_of=str(words.ONE_OF[table]),
        code=code,
        name=name_of(table, new or old or {}),
        change="changed" if old and new else "added" if new else "removed",
        lines=lines if new else (),
        heir=name_of("causes", heirs[0]) if heirs and not new else "",
    )
