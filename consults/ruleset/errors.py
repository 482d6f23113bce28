"""What can be wrong with a rule set, gathered so that one reading of the list mends everything."""

from collections.abc import Iterable
from typing import NamedTuple


class Problem(NamedTuple):
    """One thing to mend: the file, the entry in it, the field of the entry, and what to do."""

    file: str
    entry: str
    field: str
    message: str

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.file, self.entry, self.field) if part)
        return f"{place}: {self.message}"


class RulesetError(ValueError):
    """Raised with all problems of a rule set at once; its text has one line for each."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
