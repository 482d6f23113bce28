"""What the pages of the bench show."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from garden.bench.forms import ToolForm
from garden.bench.prefill import GardenFacts
from garden.bench.tool import GROUPS, Answer, Refused, Tool, answer_json, work_out
from garden.bench.tools import all_tools
from garden.choices import Units
from garden.people.defaults import units_for_new_grower
from garden.wording import Wording


def units_of(asked: str, facts: GardenFacts | None) -> str:
    """The units to speak in: those asked for, else the grower's, else the shop's."""
    if asked in Units.values:
        return asked
    return facts.units if facts else units_for_new_grower()


def found_tools(query: str) -> list[tuple[str, Sequence[Tool]]]:
    """The groups with their tools, or with those that have every word of the query."""
    words = query.casefold().split()
    found: list[tuple[str, Sequence[Tool]]] = []
    for group, name in GROUPS.items():
        tools = [
            tool
            for tool in all_tools().values()
            if tool.group == group
            and all(part in f"{tool.question} {tool.about} {name}".casefold() for part in words)
        ]
        if tools:
            found.append((str(name), tools))
    return found


@dataclass
class Page:
    """A tool's page: its form, and what comes of it. Errors of the form are complete once it is made."""

    tool: Tool
    form: ToolForm
    units: str
    facts: GardenFacts | None

    def __post_init__(self) -> None:
        self.refusal = ""
        self.answer: Answer | None = self._worked_out()

    def _worked_out(self) -> Answer | None:
        if not self.form.is_valid() or (self.missing and not self.form.untouched):
            return None
        try:
            return work_out(self.tool, self.form.values(), Wording(self.units))
        except Refused as refused:
            if refused.field in self.form.fields and not self.form.untouched:
                self.form.add_error(refused.field, str(refused))
            else:
                self.refusal = str(refused)
            return None

    @property
    def missing(self) -> list[str]:
        return self.form.missing

    @property
    def is_example(self) -> bool:
        return self.form.untouched

    @property
    def others(self) -> list[tuple[str, str]]:
        """Units to change over to: their code and name."""
        return [(code, str(name)) for code, name in Units.choices if code != self.units]

    @cached_property
    def kept(self) -> dict[str, Any] | None:
        """The answer as it can be kept as JSON."""
        return answer_json(self.answer) if self.answer else None
