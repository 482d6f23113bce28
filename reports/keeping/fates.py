"""What can become of a column when its grower is erased."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.utils import timezone

from consults.choices import PlanStatus
from consults.models.guards import OUTCOME_KEYS
from reports.keeping.identity import ERASED_NAME, INSTEAD, Identity, changed_text
from reports.models import MessageState

# From the value, its row and who is erased to what stands there afterwards. Twice changes nothing more.
Fate = Callable[[Any, models.Model, Identity], Any]


@dataclass(frozen=True)
class Held:
    """What erasing a grower means for one model.

    `of` is the key that leads to the grower, through models that stand earlier in the table; "" for the
    grower itself. `columns` decides every column that can hold words. `files` are columns that name a file,
    whose bytes go. Where `rows_go`, nothing of the row stays. `goes` and `stays` tell it to people.
    """

    model: str
    name: Any
    of: str = ""
    columns: Mapping[str, Fate] = field(default_factory=dict)
    files: tuple[str, ...] = ()
    rows_go: bool = False
    also: Callable[[int], models.Q] | None = None
    goes: Any = ""
    stays: Any = ""


# --- plain fates ----------------------------------------------------------------------------------
def stays(value: Any, row: models.Model, who: Identity) -> Any:
    """A code, a number as text, a hash, a state: nobody is named in it."""
    return value


def cleared(value: Any, row: models.Model, who: Identity) -> Any:
    return ""


def nothing(value: Any, row: models.Model, who: Identity) -> Any:
    return None


def replaced(value: Any, row: models.Model, who: Identity) -> Any:
    """Words that the database wants to be some: a sign that there were any."""
    return INSTEAD if value else value


def revoked(value: Any, row: models.Model, who: Identity) -> Any:
    """A link the grower was given leads nowhere any more."""
    return value or timezone.now()


def cleaned(value: Any, row: models.Model, who: Identity) -> Any:
    """Typed by people, but about plants: stays, without what says who it was."""
    return changed_text(value, who.taken_from)


# --- particular ones ------------------------------------------------------------------------------
def anonymous_name(value: Any, row: models.Model, who: Identity) -> str:
    return f"{ERASED_NAME} {getattr(row, 'id')}"  # noqa: B009 - a history row has the id of its grower too


def line_text(value: Any, row: models.Model, who: Identity) -> Any:
    """A line the rules wrote stays; one written by hand goes."""
    return replaced(value, row, who) if getattr(row, "edited") else value  # noqa: B009


def sent_state(value: Any, row: models.Model, who: Identity) -> Any:
    return MessageState.WITHHELD if value in {MessageState.WAITING, MessageState.DEAD} else value


_CODES = ("case_file", "present", "absent", "practices", "readings")
_RULES_OWN = (*OUTCOME_KEYS, "shop", "language", "workings", "better")


def case_inputs(value: Any, row: models.Model, who: Identity) -> Any:
    """The case file a ranking was made from, without the grower, the story and the garden's name."""
    if not isinstance(value, dict):
        return value
    kept = {key: item for key, item in value.items() if key != "story"}
    grower = kept.get("grower")
    kept["grower"] = {"units": grower["units"]} if isinstance(grower, dict) and "units" in grower else {}
    if isinstance(kept.get("garden"), dict):
        kept["garden"] = {key: item for key, item in kept["garden"].items() if key != "name"}
    codes = {
        key: kept[key] for key in ("case_file", "present", "absent", "practices", "readings") if key in kept
    }
    return {**changed_text(kept, who.taken_from), **codes}


def plan_snapshot(value: Any, row: models.Model, who: Identity) -> Any:
    """What an issued plan said, without words of or about the grower. A draft has none."""
    if not isinstance(value, dict) or getattr(row, "status") != PlanStatus.ISSUED:  # noqa: B009
        return value
    rules_own = {key: value[key] for key in _RULES_OWN if key in value}
    by_the_rules = _unedited_texts(row)
    own_words = _own_words(value, by_the_rules)
    rest = changed_text(value, lambda words: who.taken_from(_without(words, own_words)))
    rest["grower"] = {"name": INSTEAD}
    rest["photos"] = []
    rest["case"] = {**rest.get("case", {}), "story": ""}
    rest["plan"] = {**rest.get("plan", {}), "greeting": "", "by": value.get("plan", {}).get("by", "")}
    return {**rest, **rules_own, "erased": True}


def _unedited_texts(plan: models.Model) -> set[str]:
    return set(plan.actions.filter(edited=False).values_list("text", flat=True))  # type: ignore[attr-defined]


def _own_words(snapshot: dict[str, Any], by_the_rules: set[str]) -> list[str]:
    """What people wrote for this one grower, wherever the snapshot repeats it; longest first."""
    words = {action.get("text", "") for action in snapshot.get("actions", [])} - by_the_rules
    words |= {photo.get("caption", "") for photo in snapshot.get("photos", [])}
    words |= {snapshot.get("case", {}).get("story", ""), snapshot.get("plan", {}).get("greeting", "")}
    return sorted(words - {"", INSTEAD}, key=len, reverse=True)


def _without(text: str, own_words: list[str]) -> str:
    for words in own_words:
        text = text.replace(words, INSTEAD)
    return text
