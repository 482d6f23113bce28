"""What a check-in asks of one plan: its lines, the main complaints, the readings taken before."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import get_language

from consults.cases.forms import unit_of
from consults.models import CheckIn, Plan
from garden.models import Reading as ReadingRow
from garden.reference.loader import load_reference
from garden.reference.schema import Reading, text
from garden.wording import Wording

COMPLAINTS = 4  # more questions of the same kind are not answered with care; judgement


@dataclass(frozen=True)
class AskedReading:
    """A reading to take again, in the grower's unit. `kept` is what was sent before."""

    reading: Reading
    name: str
    unit: str
    kept: ReadingRow | None


@dataclass(frozen=True)
class Asked:
    """Everything one check-in asks for, in the language in force."""

    actions: tuple[tuple[int, str], ...]
    complaints: tuple[tuple[str, str], ...]
    readings: tuple[AskedReading, ...]
    wording: Wording
    initial: dict[str, Any]


def first_name(name: str) -> str:
    """The first word of a name: all of it that the public page shows."""
    return next(iter(name.split()), "")


def asked_of(check_in: CheckIn) -> Asked:
    """What to ask for this look, with the answers sent so far."""
    plan = check_in.plan
    wording = Wording(plan.case.grower.units)
    readings = tuple(_readings(check_in, wording))
    return Asked(
        actions=tuple(action_lines(plan)),
        complaints=tuple((entry["code"], entry["text"]) for entry in complaints(plan)),
        readings=readings,
        wording=wording,
        initial=_initial(check_in, readings),
    )


def action_lines(plan: Plan) -> list[tuple[int, str]]:
    """The lines of an issued plan, by key, as the plan says them."""
    return [
        (action.pk, f"{action.text} ({action.quantity})" if action.quantity else action.text)
        for action in plan.actions.all()
        if action.included
    ]


def complaints(plan: Plan) -> list[dict[str, str]]:
    """What was seen when the plan was issued, as code and plain words, the first few."""
    seen: list[dict[str, str]] = (plan.snapshot or {}).get("seen", [])
    return seen[:COMPLAINTS]


def values_before(plan: Plan) -> dict[str, float]:
    """The readings the plan was made from, in stored units."""
    values: dict[str, float] = plan.ranking.inputs.get("readings", {}) if plan.ranking else {}
    return values


def _readings(check_in: CheckIn, wording: Wording) -> list[AskedReading]:
    reference, language = load_reference(), get_language() or "en"
    kept = {reading.quantity: reading for reading in check_in.readings.all()}
    asked = {*values_before(check_in.plan), *kept}
    return [
        AskedReading(reading, text(reading.name, language), unit_of(reading, wording), kept.get(code))
        for code, reading in reference.readings.items()
        if code in asked and not reading.derived
    ]


def _initial(check_in: CheckIn, readings: tuple[AskedReading, ...]) -> dict[str, Any]:
    initial: dict[str, Any] = {"progress": check_in.progress, "words": check_in.words}
    initial |= {f"done-{pk}": done for pk, done in check_in.actions_done.items()}
    initial |= {f"change-{code}": change for code, change in check_in.changes.items()}
    for asked in readings:
        if asked.kept:
            code = asked.reading.code
            initial[f"read-{code}"] = initial[f"sure-{code}"] = asked.kept.typed
    return initial
