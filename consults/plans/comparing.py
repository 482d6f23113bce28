"""Two versions of a plan side by side, line by line and word by word. Pure: no Django, no database."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

ALIKE = 0.6  # two lines of the shop's own are the same line changed when this much of their words agrees

PieceKind = Literal["same", "added", "removed"]
ChangeKind = Literal["same", "changed", "added", "removed"]
_PARTS = ("when", "text", "quantity", "worked", "stop")


@dataclass(frozen=True)
class PlanLine:
    """A line of a plan as it is compared. A line of the shop's own has no code."""

    code: str
    when: str
    text: str
    quantity: str = ""
    worked: str = ""
    stop: str = ""


@dataclass(frozen=True)
class Piece:
    """Words that stand in both versions, or in one of them only."""

    kind: PieceKind
    text: str


@dataclass(frozen=True)
class Change:
    """A line in both versions, or in one of them. `parts` are the pieces of each part of the line."""

    kind: ChangeKind
    old: PlanLine | None
    new: PlanLine | None
    parts: dict[str, tuple[Piece, ...]]


def word_pieces(old: str, new: str) -> tuple[Piece, ...]:
    """Return the words of both texts in pieces: what is in both, what was removed, what was added."""
    before, after = old.split(), new.split()
    pieces: list[Piece] = []
    matcher = difflib.SequenceMatcher(None, before, after, autojunk=False)
    for tag, at, until, new_at, new_until in matcher.get_opcodes():
        if tag == "equal":
            pieces.append(Piece("same", " ".join(before[at:until])))
            continue
        if until > at:
            pieces.append(Piece("removed", " ".join(before[at:until])))
        if new_until > new_at:
            pieces.append(Piece("added", " ".join(after[new_at:new_until])))
    return tuple(pieces)


def compare_lines(old: Sequence[PlanLine], new: Sequence[PlanLine]) -> list[Change]:
    """Return every line of both versions once: those of the new one in its order, then what was removed."""
    partner = _partners(old, new)
    changes = [_change(old[partner[at]] if at in partner else None, line) for at, line in enumerate(new)]
    gone = set(range(len(old))) - set(partner.values())
    return changes + [_change(old[at], None) for at in sorted(gone)]


def _partners(old: Sequence[PlanLine], new: Sequence[PlanLine]) -> dict[int, int]:
    """For places in the new version, the place of the same line in the old one: first by code, then by the
    same words, then by words that are mostly the same."""
    partner: dict[int, int] = {}
    free = list(range(len(old)))

    def pair(at: int, found: int | None) -> None:
        if found is not None:
            partner[at] = found
            free.remove(found)

    for at, line in enumerate(new):
        if line.code:
            pair(at, next((i for i in free if old[i].code == line.code), None))
        else:
            pair(at, next((i for i in free if not old[i].code and old[i].text == line.text), None))
    for at, line in enumerate(new):
        if not line.code and at not in partner:
            own = [i for i in free if not old[i].code]
            best = max(own, key=lambda i: _likeness(old[i].text, line.text), default=None)
            pair(at, best if best is not None and _likeness(old[best].text, line.text) >= ALIKE else None)
    return partner


def _likeness(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one.split(), other.split(), autojunk=False).ratio()


def _change(old: PlanLine | None, new: PlanLine | None) -> Change:
    parts = {
        part: word_pieces(getattr(old, part) if old else "", getattr(new, part) if new else "")
        for part in _PARTS
    }
    if old is None or new is None:
        return Change("added" if old is None else "removed", old, new, parts)
    changed = any(piece.kind != "same" for pieces in parts.values() for piece in pieces)
    return Change("changed" if changed else "same", old, new, parts)
