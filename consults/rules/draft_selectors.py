"""Reads about the draft: entries for the lists, problems with a link to each, codes that are taken."""

import json
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from django.urls import reverse
from django.utils.translation import gettext as _

from consults.models import RulesetVersion
from consults.models.rules import RulesDraft
from consults.rules import words
from consults.rules.describe import Names, lines_of, name_of, part_label, part_said
from consults.rules.differences import EntryDifferences, differences
from consults.rules.selectors import ruleset_current
from consults.rules.tables import PARTS, Entry, Tables, check, find, key_of, linking_to, load
from consults.ruleset.errors import Problem
from consults.ruleset.loader import load_bundled
from garden.reference.schema import text


def draft_get() -> RulesDraft | None:
    """The draft of the shop, or None. One query."""
    return RulesDraft.objects.select_related("based_on", "started_by", "changed_by").first()


class DraftProblem(NamedTuple):
    """One thing to mend before publishing: entry and field in words, and where to mend it ("" if nowhere)."""

    table: str
    code: str
    kind_of: str
    name: str
    field: str
    message: str
    url: str


def draft_problems(draft: RulesDraft) -> list[DraftProblem]:
    """What the loader has against the draft."""
    problems = check(draft.content).problems
    if not problems:
        return []
    tables = load(draft.content)
    names = Names.of(tables)
    return [_problem(problem, tables, names) for problem in problems]


def _problem(problem: Problem, tables: Tables, names: Names) -> DraftProblem:
    table = problem.file.split()[-1]
    entry = find(tables, table, problem.entry) if table in tables else None
    url = reverse("rules-entry", args=[table, problem.entry]) if entry and table in words.TABLES else ""
    part = problem.field.split(".")[0]
    return DraftProblem(
        table=table,
        code=problem.entry,
        kind_of=str(words.ONE_OF.get(table, "")),
        name=name_of(table, entry) if entry else problem.entry,
        field=_field_said(table, problem.field, entry, names),
        message=problem.message,
        url=f"{url}#{part}" if url and table == "causes" and part in PARTS else url,
    )


def _field_said(table: str, field: str, entry: Entry | None, names: Names) -> str:
    """The field of an entry as its page calls it."""
    if entry is None:
        return field
    part, _dot, rest = field.partition(".")
    if table == "causes" and part in PARTS:
        for at, line in enumerate(entry[part]):
            key = line[PARTS[part]] if PARTS[part] else str(at)
            if rest == key or rest.startswith(f"{key}."):
                return part_label(part, line, names)
        return str(words.PART_NAMES[part])
    labels = {line.key: line.label for line in lines_of(table, entry, names)}
    return labels.get(field, field)


def draft_differences(draft: RulesDraft) -> list[EntryDifferences]:
    """What publishing the draft would change."""
    return differences(load(ruleset_current().to_json()), load(draft.content))


@dataclass(frozen=True)
class Row:
    """One entry in a list: its name, what it says of itself in a line, and a mark or two."""

    code: str
    name: str
    note: str
    mark: str
    problems: int


def draft_rows(draft: RulesDraft, table: str, wanted: str = "") -> list[Row]:
    """The entries of a table by name; with `wanted`, those that speak of it anywhere."""
    tables = load(draft.content)
    names = Names.of(tables)
    wrong: dict[str, int] = {}
    for problem in check(draft.content).problems:
        if problem.file.split()[-1] == table:
            wrong[problem.entry] = wrong.get(problem.entry, 0) + 1
    rows = []
    for entry in tables[table]:
        if wanted and not _speaks_of(table, entry, names, wanted.casefold()):
            continue
        code = key_of(entry)
        note, mark = _ROW[table](entry, tables)
        rows.append(Row(code, name_of(table, entry), note, mark, wrong.get(code, 0)))
    return sorted(rows, key=lambda row: row.name.casefold())


def _speaks_of(table: str, entry: Entry, names: Names, wanted: str) -> bool:
    told = " ".join(line.said + " " + line.label for line in lines_of(table, entry, names))
    return wanted in f"{key_of(entry)} {told}".casefold()


def _cause_row(entry: Entry, _tables: Tables) -> tuple[str, str]:
    return text(entry["definition"]), str(words.GROUPS[entry["group"]])


def _finding_row(entry: Entry, tables: Tables) -> tuple[str, str]:
    return text(entry["plain"]), _("%(n)d causes") % {"n": len(linking_to(tables, "findings", key_of(entry)))}


def _linked_row(table: str) -> Any:
    def row(entry: Entry, tables: Tables) -> tuple[str, str]:
        note = text(entry["definition"]) if table == "practices" else entry["note"] or ""
        return note, _("%(n)d causes") % {"n": len(linking_to(tables, table, key_of(entry)))}

    return row


def _source_row(entry: Entry, _tables: Tables) -> tuple[str, str]:
    return entry["publisher"], str(words.STATUS_WORDS[entry["status"]])


_ROW = {
    "causes": _cause_row,
    "findings": _finding_row,
    "practices": _linked_row("practices"),
    "conditions": _linked_row("conditions"),
    "sources": _source_row,
}


@dataclass(frozen=True)
class Section:
    """One folding section of a cause page: its lines, each with its key and what it says."""

    part: str
    name: str
    lines: tuple[tuple[str, str, str], ...]


def cause_sections(cause: Entry, names: Names) -> list[Section]:
    """The lists of a cause, each line as (key, label, words)."""
    order = list(words.STRENGTH_WORDS)
    sections = []
    for part, field in PARTS.items():
        found = []
        for at, line in enumerate(cause[part]):
            label = said_label(part, line, names)
            place = order.index(line["strength"]) if part == "findings" else at
            found.append((place, (line[field] if field else str(at), label, said_line(part, line, names))))
        lines = tuple(line for _place, line in sorted(found, key=lambda pair: pair[0]))
        sections.append(Section(part, str(words.PART_NAMES[part]), lines))
    return sections


def said_label(part: str, line: Entry, names: Names) -> str:
    """What a line of a cause is about, for a list under its own heading."""
    table = {"findings": "findings", "readings": "conditions", "practices": "practices"}.get(part)
    if table:
        return names.name(table, line[PARTS[part]])
    return text(line["text"]) if part == "actions" else part_label(part, line, names)


def said_line(part: str, line: Entry, names: Names) -> str:
    """What a line of a cause says, beside its label."""
    return str(words.TIMES[line["when"]]) if part == "actions" else part_said(part, line, names)


# --- codes that are taken -------------------------------------------------------------------------
def codes_published(table: str) -> dict[str, str]:
    """Every code of a table that any published version used, with the name it had last."""
    versions = RulesetVersion.objects.filter(published_at__isnull=False)
    found: dict[str, str] = {}
    for version in versions.order_by("published_at", "pk").values_list("version", flat=True):
        found.update(_codes_of(version).get(table, {}))
    found.update({key_of(entry): name_of(table, entry) for entry in load(load_bundled().to_json())[table]})
    return found


@lru_cache(maxsize=64)
def _codes_of(version: str) -> dict[str, dict[str, str]]:
    """Codes and names of a stored version, aliases of causes among them; read once, for it never changes."""
    content = RulesetVersion.objects.values_list("content", flat=True).get(version=version)
    tables, found = json.loads(content), {}
    for table in words.TABLES:
        try:
            named = {key_of(entry): name_of(table, entry) for entry in tables[table]}
            for entry in tables[table]:
                named |= {alias: named[key_of(entry)] for alias in entry.get("aliases", [])}
        except (KeyError, TypeError, AttributeError):
            named = {}
        found[table] = named
    return found


def code_problem(tables: Tables, table: str, code: str) -> str | None:
    """Why a new entry cannot be called so, or None."""
    if find(tables, table, code) is not None:
        return _("There is an entry with this code already. Choose another one.")
    for cause in tables["causes"] if table == "causes" else ():
        if code in cause["aliases"]:
            return _("This code still stands for “%(name)s”. Choose another one.") % {
                "name": text(cause["name"])
            }
    used = codes_published(table)
    if code in used:
        return _(
            "This code meant “%(name)s” in published rules, and old cases still use it. Choose another one, "
            "or bring the old entry back from the differences of the draft."
        ) % {"name": used[code]}
    return None
