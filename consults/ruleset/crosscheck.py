"""Checks that every code a rule set mentions exists, and that no code means two things."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from pydantic import BaseModel

from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.errors import nearest
from consults.ruleset.conditions import CASE_NUMBERS
from consults.ruleset.errors import Problem
from consults.ruleset.schema import Action, Cause, Condition
from garden.reference.schema import NO_SOURCE


class KnownCodes(NamedTuple):
    """Codes kept outside the rule set (the garden's reference data), per kind."""

    readings: frozenset[str]
    crops: frozenset[str]
    stages: frozenset[str]
    systems: frozenset[str]
    media: frozenset[str]
    profiles: frozenset[str]


class Placed(NamedTuple):
    """A valid entry and the file it came from."""

    file: str
    entry: BaseModel


Names = Mapping[str, frozenset[str] | None]  # per table the codes written in it; None where it cannot be told


def crosscheck(
    tables: Mapping[str, list[Placed]], names: Names, known: KnownCodes | None
) -> Iterator[Problem]:
    """Yield every problem between the entries of `tables`."""
    for table, placed in tables.items():
        for file, entry in placed:
            yield from _check_source(file, entry, names)
            if isinstance(entry, Condition) and known is not None:
                numbers = known.readings | CASE_NUMBERS
                yield from _unknown(file, entry.code, "reading", "reading", [entry.reading], numbers)
        if table == "causes":
            causes = [(file, entry) for file, entry in placed if isinstance(entry, Cause)]
            yield from _check_causes(causes, names, known)


def _unknown(
    file: str, entry: str, field: str, kind: str, codes: Iterable[str], allowed: frozenset[str] | None
) -> Iterator[Problem]:
    if allowed is None:
        return
    for code in codes:
        if code not in allowed:
            message = f"The {kind} '{code}' is not known. {nearest(code, allowed)}"
            yield Problem(file, entry, field, message)


def _repeated(file: str, entry: str, field: str, codes: Iterable[str]) -> Iterator[Problem]:
    for code, count in Counter(codes).items():
        if count > 1:
            yield Problem(file, entry, field, f"'{code}' is given {count} times. Keep one of them.")


def _check_source(file: str, entry: BaseModel, names: Names) -> Iterator[Problem]:
    allowed = names["sources"]
    code = str(getattr(entry, "code", ""))
    parts: list[tuple[str, BaseModel]] = [("source", entry)]
    if isinstance(entry, Cause):
        parts = [(f"prior_factors.{at}.source", part) for at, part in enumerate(entry.prior_factors)]
        parts += [(f"findings.{link.finding}.source", link) for link in entry.findings]
        parts += [(f"readings.{reading.condition}.source", reading) for reading in entry.readings]
        parts += [(f"practices.{practice.practice}.source", practice) for practice in entry.practices]
    for field, part in parts:
        source = getattr(part, "source", NO_SOURCE)
        if source == NO_SOURCE or allowed is None or source in allowed:
            continue
        hint = f"Name an id of sources.yaml or write '{NO_SOURCE}' in quotes."
        yield Problem(
            file, code, field, f"The source '{source}' is not known. {nearest(source, allowed)} {hint}"
        )


def _check_causes(
    causes: list[tuple[str, Cause]], names: Names, known: KnownCodes | None
) -> Iterator[Problem]:
    actions = (
        None
        if names["causes"] is None
        else frozenset(action.code for _, cause in causes for action in cause.actions)
        | (names.get("actions") or frozenset())
    )
    yield from _check_cause_names(causes)
    yield from _check_shared_actions(causes)
    for file, cause in causes:
        yield from _check_links(file, cause, names)
        yield from _check_contexts(file, cause, known)
        yield from _repeated(file, cause.code, "actions", (action.code for action in cause.actions))
        for action in cause.actions:
            where = f"actions.{action.code}"
            yield from _unknown(
                file, cause.code, f"{where}.cautions", "caution", action.cautions, names["cautions"]
            )
            yield from _unknown(file, cause.code, f"{where}.opposes", "action", action.opposes, actions)
            yield from _check_action_places(file, cause.code, where, action, names, known)
            if action.code in action.opposes:
                yield Problem(file, cause.code, f"{where}.opposes", "An action cannot oppose itself.")


def _check_action_places(
    file: str, cause: str, where: str, action: Action, names: Names, known: KnownCodes | None
) -> Iterator[Problem]:
    findings, practices = action.answered_by.findings, action.only.practices
    yield from _unknown(file, cause, f"{where}.answered_by.findings", "finding", findings, names["findings"])
    yield from _unknown(file, cause, f"{where}.only.practices", "practice", practices, names["practices"])
    if known is None:
        return
    readings = (*action.answered_by.readings, *((action.only.reading,) if action.only.reading else ()))
    yield from _unknown(file, cause, where, "reading", readings, known.readings)
    for kind in ("systems", "media", "crops", "stages"):
        given: tuple[str, ...] = getattr(action.only, kind)
        yield from _unknown(file, cause, f"{where}.only.{kind}", kind, given, getattr(known, kind))


def _check_links(file: str, cause: Cause, names: Names) -> Iterator[Problem]:
    if not cause.findings:
        message = "A cause needs at least one finding; without one nothing could ever point to it."
        yield Problem(file, cause.code, "findings", message)
    links = (
        ("findings", "finding", [link.finding for link in cause.findings]),
        ("readings", "condition", [link.condition for link in cause.readings]),
        ("practices", "practice", [link.practice for link in cause.practices]),
    )
    for field, kind, codes in links:
        yield from _repeated(file, cause.code, field, codes)
        yield from _unknown(file, cause.code, field, kind, codes, names[f"{kind}s"])


def _check_contexts(file: str, cause: Cause, known: KnownCodes | None) -> Iterator[Problem]:
    if known is None:
        return
    kinds = (
        ("crops", "crop", known.crops),
        ("stages", "stage", known.stages),
        ("systems", "system", known.systems),
        ("media", "medium", known.media),
        ("profiles", "profile", known.profiles),
    )
    for at, factor in enumerate(cause.prior_factors):
        for field, kind, allowed in kinds:
            codes: tuple[str, ...] = getattr(factor, field)
            yield from _unknown(file, cause.code, f"prior_factors.{at}.{field}", kind, codes, allowed)


def _check_cause_names(causes: list[tuple[str, Cause]]) -> Iterator[Problem]:
    owners = {cause.code: cause.code for _, cause in causes}
    for file, cause in causes:
        if NONE_OF_THESE in (cause.code, *cause.aliases):
            message = f"'{NONE_OF_THESE}' is reserved for 'no listed cause'. Choose another code."
            yield Problem(file, cause.code, "code", message)
        for alias in cause.aliases:
            if alias in owners:
                message = (
                    f"The alias '{alias}' already names the cause '{owners[alias]}'. Remove one of them."
                )
                yield Problem(file, cause.code, "aliases", message)
            owners.setdefault(alias, cause.code)


def _check_shared_actions(causes: list[tuple[str, Cause]]) -> Iterator[Problem]:
    """The same action code in two causes is merged into one, so both must compute the same quantity."""
    first: dict[str, tuple[str, str | None]] = {}
    for file, cause in causes:
        for action in cause.actions:
            owner, quantity = first.setdefault(action.code, (cause.code, action.quantity))
            if action.quantity != quantity and owner != cause.code:
                here, there = action.quantity or "none", quantity or "none"
                message = (
                    f"The quantity is {here} here and {there} in '{owner}'. "
                    "The same action code means the same action: make them equal or use another code."
                )
                yield Problem(file, cause.code, f"actions.{action.code}.quantity", message)
