"""The content of a draft as plain tables: reading it, checking it, and changing one piece of it at a time.

Pure apart from its sentences. Every entry in the tables has passed its own schema and is written in full, so
two contents that say the same are the same. What does not fit *between* entries is left to the loader.

A piece is a whole entry, or one line of a list of a cause. Its fingerprint tells whether somebody changed it
meanwhile.
"""

import functools
import hashlib
import json
from collections.abc import Iterator
from typing import Any, NamedTuple

from pydantic import BaseModel

from consults.ruleset.errors import Problem, RulesetError
from consults.ruleset.loader import Ruleset, reference_codes
from consults.ruleset.schema import Cause, Caution, Condition, Finding, Practice
from garden.reference.schema import Source

Entry = dict[str, Any]
Tables = dict[str, list[Entry]]

MODELS: dict[str, type[BaseModel]] = {
    "causes": Cause,
    "findings": Finding,
    "practices": Practice,
    "conditions": Condition,
    "cautions": Caution,
    "sources": Source,
}
# Lists of a cause, and by what key their lines are told apart. Contexts have none but their place.
PARTS: dict[str, str] = {
    "findings": "finding",
    "readings": "condition",
    "practices": "practice",
    "prior_factors": "",
    "actions": "code",
}
NEW = ""  # the fingerprint of what is not there yet


class StaleError(Exception):
    """The piece is not as it was when the form was opened; `now` is what stands there (None: removed)."""

    def __init__(self, now: Entry | None) -> None:
        self.now = now
        super().__init__("changed meanwhile")


class Checked(NamedTuple):
    """A content as the loader sees it: a whole rule set, or what is to be mended."""

    ruleset: Ruleset | None
    problems: tuple[Problem, ...]


def dump(tables: Tables) -> str:
    """The content as text: the canonical form of a rule set, so that a whole one has its version's hash."""
    ordered = {name: sorted(tables[name], key=key_of) for name in MODELS}
    return json.dumps(ordered, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def load(content: str) -> Tables:
    """The tables of a content written by `dump`."""
    tables: Tables = json.loads(content)
    return tables


@functools.lru_cache(maxsize=4)
def check(content: str) -> Checked:
    """What the loader says about a content."""
    try:
        return Checked(Ruleset.from_json(content, reference_codes()), ())
    except RulesetError as error:
        return Checked(None, error.problems)


def key_of(entry: Entry) -> str:
    """The code of an entry; sources call theirs an id."""
    return str(entry.get("code") or entry.get("id"))


def normal(table: str, entry: Entry) -> Entry:
    """The entry as the schema writes it, in full. Raises pydantic's ValidationError."""
    return MODELS[table].model_validate(entry).model_dump(mode="json")


def find(tables: Tables, table: str, code: str) -> Entry | None:
    """The entry of this code, or None."""
    return next((entry for entry in tables[table] if key_of(entry) == code), None)


def find_part(cause: Entry, part: str, key: str) -> Entry | None:
    """One line of a list of a cause: by its code, or by its place counted from 0 where it has none."""
    name = PARTS[part]
    if not name:
        return cause[part][int(key)] if key.isdecimal() and int(key) < len(cause[part]) else None
    return next((line for line in cause[part] if line[name] == key), None)


def fingerprint(piece: Entry | None) -> str:
    """A short mark of what a piece says; `NEW` for none."""
    if piece is None:
        return NEW
    content = json.dumps(piece, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(content.encode()).hexdigest()[:16]


def body(cause: Entry) -> Entry:
    """What a cause says of itself, without its lists: the piece its own form edits."""
    return {name: value for name, value in cause.items() if name not in PARTS}


def put(tables: Tables, table: str, entry: Entry, seen: str, *, code: str = "") -> None:
    """Write an entry over the one of `code`, or add it. Raises StaleError, and ValidationError of pydantic.

    Of a cause only the body is written; its lists stay. `seen` is the fingerprint the form was opened with.
    """
    now = find(tables, table, code or key_of(entry))
    piece = body(now) if now is not None and table == "causes" else now
    if fingerprint(piece) != seen:
        raise StaleError(now)
    if now is not None and table == "causes":
        entry = {**entry, **{part: now[part] for part in PARTS}}
    written = normal(table, entry)
    if now is None:
        tables[table].append(written)
    else:
        tables[table][tables[table].index(now)] = written


def put_part(tables: Tables, cause_code: str, part: str, key: str, line: Entry, seen: str) -> None:
    """Write one line of a list of a cause, or add it (`seen` is NEW). Raises as `put`; KeyError: no cause.

    An action of several causes is one action: it is written in all of them.
    """
    cause = find(tables, "causes", cause_code)
    if cause is None:
        raise KeyError(cause_code)
    now = find_part(cause, part, key) if seen != NEW or PARTS[part] else None
    if fingerprint(now) != seen:
        raise StaleError(now)
    if now is None:
        others = [*cause[part], line]
    else:
        others = [line if other is now else other for other in cause[part]]
    _replace(tables, cause, {**cause, part: others})
    if part == "actions":
        for other in list(tables["causes"]):
            if key_of(other) != cause_code and find_part(other, "actions", line["code"]) is not None:
                actions = [line if action["code"] == line["code"] else action for action in other["actions"]]
                _replace(tables, other, {**other, "actions": actions})


def drop_part(tables: Tables, cause_code: str, part: str, key: str, seen: str) -> None:
    """Take one line out of a list of a cause. Raises StaleError; KeyError when there is no such cause.

    An action that is in no cause any more is opposed by none.
    """
    cause = find(tables, "causes", cause_code)
    if cause is None:
        raise KeyError(cause_code)
    now = find_part(cause, part, key)
    if now is None or fingerprint(now) != seen:
        raise StaleError(now)
    _replace(tables, cause, {**cause, part: [line for line in cause[part] if line is not now]})
    if part == "actions":
        _forget_actions(tables)


def _replace(tables: Tables, old: Entry, new: Entry) -> None:
    tables["causes"][tables["causes"].index(old)] = normal("causes", new)


def _forget_actions(tables: Tables) -> None:
    known = {action["code"] for cause in tables["causes"] for action in cause["actions"]}
    for cause in tables["causes"]:
        for action in cause["actions"]:
            action["opposes"] = [code for code in action["opposes"] if code in known]


def drop(tables: Tables, table: str, code: str, seen: str, *, successor: str = "") -> None:
    """Take an entry out, with every line that only links to it. Raises StaleError.

    A cause with a `successor` goes on as its alias, and so do the aliases it had. What still stands on the
    entry in other ways (`standing_on`) is the caller's to ask about first.
    """
    now = find(tables, table, code)
    if now is None or fingerprint(body(now) if table == "causes" else now) != seen:
        raise StaleError(now)
    tables[table].remove(now)
    if table == "causes":
        heir = find(tables, "causes", successor) if successor else None
        if heir is not None:
            heir["aliases"] = [*dict.fromkeys([*heir["aliases"], code, *now["aliases"]])]
        _forget_actions(tables)
    for cause in tables["causes"]:
        for part, name in PARTS.items():
            if table in _LINKED_BY.get(part, ()):
                cause[part] = [line for line in cause[part] if line[name] != code]
        for action in cause["actions"] if table == "findings" else ():
            known = action["answered_by"]
            known["findings"] = [other for other in known["findings"] if other != code]


_LINKED_BY = {"findings": ("findings",), "readings": ("conditions",), "practices": ("practices",)}


class Place(NamedTuple):
    """Where an entry is spoken of: the table and code of the entry that does, and the field."""

    table: str
    code: str
    field: str


def standing_on(tables: Tables, table: str, code: str) -> list[Place]:
    """What would lose its ground without this entry: citations of a source, actions for a habit only."""
    if table == "sources":
        return [place for place, source in citations(tables) if source == code]
    if table == "practices":
        return [
            Place("causes", cause["code"], f"actions.{action['code']}.only")
            for cause in tables["causes"]
            for action in cause["actions"]
            if code in action["only"]["practices"]
        ]
    return []


def citations(tables: Tables) -> Iterator[tuple[Place, str]]:
    """Every place that names a source, and what it names."""
    for table in MODELS:
        for entry in tables[table]:
            if "source" in entry:
                yield Place(table, key_of(entry), "source"), entry["source"]
    for cause in tables["causes"]:
        for part, name in PARTS.items():
            for at, line in enumerate(cause[part]):
                if "source" in line:
                    key = line[name] if name else at
                    yield Place("causes", cause["code"], f"{part}.{key}.source"), line["source"]


def linking_to(tables: Tables, table: str, code: str) -> list[str]:
    """The codes of the causes that link to a finding, practice or condition."""
    parts = [part for part, linked in _LINKED_BY.items() if table in linked]
    return [
        cause["code"]
        for cause in tables["causes"]
        if any(line[PARTS[part]] == code for part in parts for line in cause[part])
    ]
