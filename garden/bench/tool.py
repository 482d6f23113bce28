"""What a tool of the bench is: a question, its inputs, and a function that answers it in the grower's words.

Tools know no request: `compute` takes stored values and a wording, so it can be used and tested anywhere.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.wording import Wording

Value = float | str | None
Values = Mapping[str, Value]
Words = Any  # a text, or one that is translated when it is shown
Choices = tuple[tuple[str, str], ...]

GROUPS: dict[str, Words] = {
    "air": gettext_lazy("Air"),
    "light": gettext_lazy("Light"),
    "watering": gettext_lazy("Watering and roots"),
    "feed": gettext_lazy("Feed and reservoir"),
    "water": gettext_lazy("Water and acid"),
    "room": gettext_lazy("The room"),
    "young": gettext_lazy("Seeds and cuttings"),
}
"""Groups of the index, in its order."""


@dataclass(frozen=True)
class Field:
    """One input. Limits and example are in `unit`, the stored unit; None is a bare number or a word.

    `choices` makes it a list to choose from, `rows` a text of so many lines. `metric_unit` and `us_unit` are
    what people type in; `us_factor` tells how many stored units one US unit is where the unit table does not
    know it. `above`: `low` itself is refused. `prefill` names the fact of a garden that fills it.
    """

    name: str
    label: Words
    unit: str | None = None
    low: float = 0.0
    high: float = 1e6
    example: float | str | None = None
    optional: bool = False
    choices: Callable[[], Choices] | None = None
    help: Words = ""
    prefill: str = ""
    above: bool = False
    metric_unit: str = ""
    us_unit: str = ""
    us_factor: float | None = None
    rows: int = 0

    @property
    def is_amount(self) -> bool:
        return self.choices is None and not self.rows


@dataclass(frozen=True)
class Answer:
    """What the counter says, large, and what stands behind it. `picture` is SVG text, or nothing.

    `cautions` are for what can hurt somebody; what is only good to know stands in `notes`.
    """

    headline: str
    facts: tuple[tuple[str, str], ...]
    working: tuple[str, ...]
    source: str
    cautions: tuple[str, ...] = ()
    picture: str = ""
    estimate: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tool:
    """A question of the counter. `code` stands in its address, `about` in the index."""

    code: str
    question: Words
    about: Words
    group: str
    fields: tuple[Field, ...]
    compute: Callable[[Values, Wording], Answer]

    def example(self) -> dict[str, Value]:
        """The values that stand as examples beside the fields."""
        return {field.name: field.example for field in self.fields}


class Refused(AgronomyError):  # noqa: N818 - says what happens
    """A question that cannot be answered so; says why, how to go on, and which field it is about."""

    def __init__(self, sentence: str, field: str = "") -> None:
        self.field = field
        super().__init__(sentence)


def work_out(tool: Tool, values: Values, wording: Wording) -> Answer:
    """Return the tool's answer; raises Refused, naming the field where it is known, and nothing else."""
    complete = {field.name: values.get(field.name) for field in tool.fields}
    try:
        for field in tool.fields:
            if complete[field.name] in (None, "") and not field.optional:
                raise Refused(_("Fill in “%(label)s”.") % {"label": field.label}, field.name)
        return tool.compute(complete, wording)
    except Refused:
        raise
    except OutOfRange as error:
        raise _said_of_field(tool, error) from error
    except AgronomyError as error:
        raise Refused(str(error)) from error


def _said_of_field(tool: Tool, error: OutOfRange) -> Refused:
    """The refusal of a calculation in the words of the field it is about."""
    for field in tool.fields:
        if field.name == error.field:
            sentence = _("%(label)s is %(value)s here; it must be %(allowed)s.") % {
                "label": field.label,
                "value": f"{error.value:.4g}",
                "allowed": error.allowed,
            }
            return Refused(sentence, field.name)
    # What a calculation calls its inner numbers says nothing at the counter.
    return Refused(_("These numbers together are beyond what can be reckoned. Check each one and its unit."))


def answer_json(answer: Answer) -> dict[str, Any]:
    """Return an answer as plain lists, texts and truths, fit to be kept as JSON."""
    return {
        "headline": answer.headline,
        "facts": [[label, value] for label, value in answer.facts],
        "working": list(answer.working),
        "source": answer.source,
        "cautions": list(answer.cautions),
        "picture": answer.picture,
        "estimate": answer.estimate,
        "notes": list(answer.notes),
    }


def amount(values: Values, name: str) -> float:
    """Return a number that is there; `work_out` has seen to it for fields that are not optional."""
    found = values[name]
    if not isinstance(found, float | int):
        raise Refused(_("A number is missing here."), name)
    return float(found)


def maybe(values: Values, name: str) -> float | None:
    """Return a number, or None where nothing was typed."""
    found = values.get(name)
    return float(found) if isinstance(found, float | int) else None


def word(values: Values, name: str) -> str:
    """Return what was chosen or written, or an empty text."""
    found = values.get(name)
    return found if isinstance(found, str) else ""
