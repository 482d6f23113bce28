"""How well growers' words are read: measured on sentences written without sight of our phrases. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import yaml

from consults.ruleset.halves import half_of
from consults.ruleset.schema import Entry, Finding, Words
from consults.ruleset.words import propose
from garden.reference.schema import Code

FILE = Path(__file__).with_name("grower_phrases.yaml")


class Sentence(Entry):
    """What a grower said, and the findings a careful member of staff would tick from it."""

    id: Code
    text: Words
    present: tuple[Code, ...] = ()
    absent: tuple[Code, ...] = ()


@dataclass(frozen=True)
class Misread:
    """A sentence that was not read as a member of staff would."""

    id: str
    text: str
    missed: tuple[str, ...]  # findings, "not:" before one that was denied
    wrong: tuple[str, ...]


@dataclass(frozen=True)
class Score:
    """`n` sentences; `precision` and `recall` 0 to 1 over all findings; `exact`: share without a fault."""

    n: int
    precision: float
    recall: float
    exact: float
    misread: tuple[Misread, ...]


def load_sentences(path: Path = FILE) -> tuple[Sentence, ...]:
    """Return the sentences, in the order of the file. Raises pydantic's ValidationError for a bad entry."""
    return tuple(Sentence.model_validate(row) for row in yaml.safe_load(path.read_text(encoding="utf-8")))


def in_half(sentences: Iterable[Sentence], half: str) -> tuple[Sentence, ...]:
    """The sentences of the half "seen" (phrases may be mended after it) or "unseen" (never looked at)."""
    return tuple(sentence for sentence in sentences if half_of(sentence.id) == half)


def score(sentences: Iterable[Sentence], findings: Mapping[str, Finding]) -> Score:
    """Return how the sentences are read. Precision and recall are 1 when there is nothing to be counted."""
    right = proposed = wanted = exact = total = 0
    misread = []
    for sentence in sentences:
        expected = {*sentence.present, *(f"not:{code}" for code in sentence.absent)}
        found = {p.code if p.present else f"not:{p.code}" for p in propose(sentence.text, findings)}
        total, wanted, proposed = total + 1, wanted + len(expected), proposed + len(found)
        right += len(expected & found)
        exact += expected == found
        if expected != found:
            missed, wrong = tuple(sorted(expected - found)), tuple(sorted(found - expected))
            misread.append(Misread(sentence.id, sentence.text, missed, wrong))
    return Score(
        n=total,
        precision=right / proposed if proposed else 1.0,
        recall=right / wanted if wanted else 1.0,
        exact=exact / total if total else 1.0,
        misread=tuple(misread),
    )
