"""Entries of the rules as labelled lines of words: what pages list and versions are compared by."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from consults.rules import words
from consults.rules.selectors import PRIOR_WORDS, STRENGTH_WORDS
from consults.rules.tables import MODELS, Entry, Tables, key_of
from consults.ruleset.conditions import ONSET
from garden.reference.loader import bundled_reference
from garden.reference.schema import text

Texts = dict[str, str]
CONTEXTS = ("crops", "stages", "systems", "media", "profiles")
NOT_SHOWN = "author not shown"  # how the sources say that a page names nobody


class Line(NamedTuple):
    """One thing an entry says. `key` is the same in every version of the rules."""

    key: str
    label: str
    said: str


@dataclass(frozen=True)
class Names:
    """What codes are called, of the given versions of the rules; the first one that knows a code names it."""

    by_table: dict[str, dict[str, str]]

    @classmethod
    def of(cls, *versions: Tables) -> "Names":
        """Names from these tables."""
        found: dict[str, dict[str, str]] = {table: {} for table in (*MODELS, "actions")}
        for tables in versions:
            for table in MODELS:
                for entry in tables[table]:
                    found[table].setdefault(key_of(entry), name_of(table, entry))
            for cause in tables["causes"]:
                for action in cause["actions"]:
                    found["actions"].setdefault(action["code"], said(action["text"]))
        return cls(found)

    def name(self, table: str, code: str) -> str:
        """The name of a code; the code itself when nothing bears it."""
        return self.by_table[table].get(code, code)

    def source(self, code: str) -> str:
        """How a source is cited."""
        return words.source_said(code, self.by_table["sources"])

    def listed(self, table: str, codes: Iterable[str]) -> str:
        """Names joined by commas."""
        return ", ".join(self.name(table, code) for code in codes)


def said(texts: Texts | None) -> str:
    """A text as compared: English, and every other language with its code."""
    if not texts:
        return ""
    others = [f"{lang}: {words}" for lang, words in sorted(texts.items()) if lang != "en"]
    return " / ".join([texts["en"], *others])


def name_of(table: str, entry: Entry) -> str:
    """What an entry is called in lists."""
    if table == "sources":
        year = f" ({entry['year']})" if entry.get("year") else ""
        by = entry["publisher"] if entry["authors"] == NOT_SHOWN else entry["authors"]
        return f"{by}{year}: {entry['title']}"
    if table == "cautions":
        return text(entry["text"])
    return text(entry["name"])


def lines_of(table: str, entry: Entry, names: Names) -> list[Line]:
    """Everything an entry says, line by line."""
    return list(_LINES[table](entry, names))


def body_lines(cause: Entry) -> Iterator[Line]:
    """What a cause says of itself, without its lists."""
    yield Line("name", _("Name"), said(cause["name"]))
    yield Line("group", _("Group"), str(words.GROUPS[cause["group"]]))
    yield Line("definition", _("What it is"), said(cause["definition"]))
    yield Line("prior", _("How common"), str(PRIOR_WORDS[cause["prior"]]))
    yield Line("urgency", _("How urgent"), str(words.URGENCY[cause["urgency"]]))
    yield Line("contagious", _("Spreads to other plants"), _yes_no(cause["contagious"]))
    yield Line("wrong_cost", _("If we act on it and are wrong"), said(cause["wrong_cost"]))
    yield Line("better.text", _("What better looks like"), said(cause["better"]["text"]))
    yield Line("better.days", _("Better after, days"), str(cause["better"]["days"]))
    yield Line("look_again_days", _("Look again after, days"), str(cause["look_again_days"]))
    yield Line("laboratory", _("Laboratory"), said(cause["laboratory"]))
    yield Line("aliases", _("Also stands for"), ", ".join(cause["aliases"]))


def part_lines(part: str, line: Entry, names: Names, place: int = 0) -> Iterator[Line]:
    """One line of a list of a cause; an action says several things."""
    if part == "actions":
        yield from _action_lines(line, names)
    else:
        yield Line(part_key(part, line, place), part_label(part, line, names), part_said(part, line, names))


def part_key(part: str, line: Entry, place: int = 0) -> str:
    """The key of a line. Contexts are told apart by what they ask for and, if given twice, by place."""
    if part == "prior_factors":
        asked = ".".join("+".join(line[kind]) for kind in CONTEXTS)
        return f"prior_factors.{asked}" + (f".{place}" if place else "")
    key = {"findings": "finding", "readings": "condition", "practices": "practice", "actions": "code"}[part]
    return f"{part}.{line[key]}"


def part_label(part: str, line: Entry, names: Names) -> str:
    """What a line of a cause is about."""
    if part == "findings":
        return _("Finding “%(name)s”") % {"name": names.name("findings", line["finding"])}
    if part == "readings":
        return _("Reading “%(name)s”") % {"name": names.name("conditions", line["condition"])}
    if part == "practices":
        return _("Practice “%(name)s”") % {"name": names.name("practices", line["practice"])}
    if part == "prior_factors":
        return _("In the context %(context)s") % {"context": context_said(line)}
    return _("Action “%(name)s”") % {"name": line["code"]}


def part_said(part: str, line: Entry, names: Names) -> str:
    """What a line of a cause says."""
    if part == "findings":
        return f"{STRENGTH_WORDS[line['strength']]}; {names.source(line['source'])}"
    if part == "readings":
        return _("if so: %(true)s; if not: %(false)s; %(source)s") % {
            "true": words.factor_said(line["if_true"]),
            "false": words.factor_said(line["if_false"]),
            "source": names.source(line["source"]),
        }
    if part == "practices":
        return f"{words.factor_said(line['if_true'])}; {names.source(line['source'])}"
    if part == "prior_factors":
        return f"{words.factor_said(line['factor'])}; {names.source(line['source'])}"
    return said(line["text"])


def context_said(line: Entry) -> str:
    """The crops, stages, systems and media a line asks for, by name."""
    reference, parts = bundled_reference(), []
    for kind in CONTEXTS:
        known = getattr(reference, kind)
        found = [text(known[code].name) if code in known else code for code in line[kind]]
        if found:
            parts.append(_(" or ").join(found))
    return ", ".join(parts) or _("any")


def _cause_lines(cause: Entry, names: Names) -> Iterator[Line]:
    yield from body_lines(cause)
    seen: dict[str, int] = {}
    for line in cause["prior_factors"]:
        key = part_key("prior_factors", line)
        seen[key] = seen.get(key, -1) + 1
        yield from part_lines("prior_factors", line, names, seen[key])
    for part in ("findings", "readings", "practices", "actions"):
        for line in cause[part]:
            yield from part_lines(part, line, names)


def _action_lines(action: Entry, names: Names) -> Iterator[Line]:
    key, label = f"actions.{action['code']}", part_label("actions", action, names)
    yield Line(f"{key}.text", label, said(action["text"]))
    told: dict[str, tuple[str, str]] = {
        "why": (_("why"), said(action["why"])),
        "when": (_("when"), str(words.TIMES[action["when"]])),
        "stop_when": (_("stop when"), said(action["stop_when"])),
        "cautions": (_("cautions"), names.listed("cautions", action["cautions"])),
        "buys": (_("needs buying something"), _yes_no(action["buys"])),
        "reversible": (_("can be undone"), _yes_no(action.get("reversible", True))),
        "quantity": (_("quantity"), action["quantity"] or ""),
        "opposes": (_("not together with"), names.listed("actions", action["opposes"])),
        "only": (_("only where"), _conditions(action["only"])),
        "answered_by": (_("settled once known"), _conditions(action["answered_by"])),
    }
    for field, (name, words_) in told.items():
        yield Line(f"{key}.{field}", f"{label}, {name}", words_)


def _conditions(value: Entry) -> str:
    given = {key: found for key, found in value.items() if found not in (None, [], ())}
    return "; ".join(
        f"{key.replace('_', ' ')}: {', '.join(map(str, found)) if isinstance(found, list) else found}"
        for key, found in given.items()
    )


def _finding_lines(entry: Entry, names: Names) -> Iterator[Line]:
    yield Line("name", _("Name"), said(entry["name"]))
    yield Line("plain", _("In plain words"), said(entry["plain"]))
    yield Line("definition", _("How to look"), said(entry["definition"]))
    yield Line("distribution", _("Where on the plant"), said(entry["distribution"]))
    yield Line("part", _("Part of the plant"), str(words.PLANT_PARTS[entry["part"]]))
    yield Line("leaf_age", _("Which leaves"), str(words.LEAF_AGES.get(entry["leaf_age"] or "", "")))
    yield Line("synonyms", _("What growers say"), "; ".join(entry["synonyms"]))
    yield Line("leak", _("Seen without any listed cause"), leak_said(entry["leak"]))
    yield Line("check", _("How it is checked"), str(words.CHECKS[entry["check"]]))
    yield Line("minutes", _("Minutes to check"), f"{entry['minutes']:g}")
    yield Line("group", _("Goes together with"), entry["group"] or "")
    yield Line("source", _("Source"), names.source(entry["source"]))


def leak_said(leak: float) -> str:
    """ "30 in 1,000 plants"."""
    return _("%(n)s in 1,000 plants") % {"n": f"{leak * 1000:g}"}


def _practice_lines(entry: Entry, names: Names) -> Iterator[Line]:
    yield Line("name", _("Name"), said(entry["name"]))
    yield Line("definition", _("When to tick it"), said(entry["definition"]))
    yield Line("source", _("Source"), names.source(entry["source"]))


def edge_of(entry: Entry) -> str:
    """The edge of a condition, as `words.EDGES` names it."""
    for side in ("above", "below"):
        if entry[side] is not None:
            return f"{side}.{entry[side]}"
    return "above_value" if entry["above_value"] is not None else "below_value"


def edge_said(entry: Entry) -> str:
    """What a condition compares its reading with."""
    value = entry["above_value"] if entry["above_value"] is not None else entry["below_value"]
    if value is not None:
        pattern = _("above %(value)s") if entry["above_value"] is not None else _("below %(value)s")
        return pattern % {"value": f"{value:g}"}
    more = _(", by more than %(by)s") % {"by": f"{entry['by']:g}"} if entry["by"] else ""
    return str(words.EDGES[edge_of(entry)]) + more


def reading_names() -> dict[str, str]:
    """What a condition can compare, by code, with its unit."""
    readings = bundled_reference().readings.values()
    named = {reading.code: f"{text(reading.name)} ({reading.unit})" for reading in readings}
    return {**named, ONSET: _("Days since it began")}


def _condition_lines(entry: Entry, names: Names) -> Iterator[Line]:
    yield Line("name", _("Name"), said(entry["name"]))
    yield Line("reading", _("Reading"), reading_names().get(entry["reading"]) or str(entry["reading"]))
    yield Line("edge", _("True when it is"), edge_said(entry))
    yield Line("source", _("Source"), names.source(entry["source"]))
    yield Line("note", _("Note"), entry["note"] or "")


def _source_lines(entry: Entry, _names: Names) -> Iterator[Line]:
    yield Line("title", _("Title"), entry["title"])
    yield Line("authors", _("Authors"), entry["authors"])
    yield Line("year", _("Year"), str(entry["year"] or ""))
    yield Line("publisher", _("Publisher"), entry["publisher"])
    yield Line("link", _("Where it is found"), entry["link"] or "")
    yield Line("status", _("How far it was read"), str(words.STATUS_WORDS[entry["status"]]))


def _caution_lines(entry: Entry, names: Names) -> Iterator[Line]:
    yield Line("text", _("Text"), said(entry["text"]))
    yield Line("source", _("Source"), names.source(entry["source"]))


def _yes_no(value: Any) -> str:
    return _("yes") if value else _("no")


_LINES = {
    "causes": _cause_lines,
    "findings": _finding_lines,
    "practices": _practice_lines,
    "conditions": _condition_lines,
    "sources": _source_lines,
    "cautions": _caution_lines,
}
