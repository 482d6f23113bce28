"""Where in a sentence the words of a phrase stand together, and what was talked of when they do. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from consults.ruleset.phrase_index import Phrase
from consults.ruleset.spoken import Token

SLACK = 3  # other telling words that may stand between those of a phrase
CROSSING = 2.0  # what a phrase loses that takes its words from both sides of a comma
TURNING = 2.5  # or of a "but"
CARRIED = 14  # words back from which a part of the plant, or the age of leaves, is still what is talked of

AGES = frozenset({"old", "young", "top", "whole"})
PARTS = frozenset({"leaf", "root", "stem", "flower", "fruit", "soil", "cutting", "seedling", "tank"})
SUBJECTS = AGES | PARTS
_NEW = frozenset({"young", "top"})


@dataclass(frozen=True)
class Hit:
    """A phrase found, whether as present, and the words that say so."""

    phrase: Phrase
    present: bool
    places: tuple[int, ...]  # of the words meant, in the text
    core: frozenset[int]  # those that say what is the matter, not where
    words: str
    weight: float


def hits_in(tokens: Sequence[Token], fresh: int, phrases: Mapping[str, Sequence[Phrase]]) -> list[Hit]:
    """Return every phrase found in `tokens`, at least one of its words from place `fresh` on."""
    there = frozenset(token.key for token in tokens)
    found = []
    for key in sorted(there & phrases.keys()):
        for phrase in phrases[key]:
            if phrase.every <= there:
                hit = _hit(tokens, fresh, phrase)
                if hit:
                    found.append(hit)
    return found


def _hit(tokens: Sequence[Token], fresh: int, phrase: Phrase) -> Hit | None:
    core_keys = (phrase.every - SUBJECTS) | phrase.unwanted or phrase.every
    core = _place(tokens, fresh, core_keys)
    if core is None:
        return None
    places = set(core)
    for key in sorted(phrase.every - core_keys):
        at = _subject(tokens, fresh, key, core, phrase.every)
        if at is None or (at < fresh and key == "leaf" and len(core) == 1):
            return None
        places.add(at)
    meant = sorted(places)
    present = None if _other_age(tokens, core, phrase) else _presence(tokens, fresh, meant, core, phrase)
    if present is None:
        return None
    weight = phrase.weight - _cost(tokens, core)
    return Hit(phrase, present, tuple(meant), frozenset(core), _quoted(tokens, meant, core), weight)


def _presence(
    tokens: Sequence[Token], fresh: int, meant: Sequence[int], core: Sequence[int], phrase: Phrase
) -> bool | None:
    """Whether the finding is told as there (True) or as absent (False); None when neither is clear."""
    denied = any(tokens[at].denied for at in meant if tokens[at].key in phrase.wanted)
    if phrase.unwanted:
        unwanted = [tokens[at].denied for at in meant if tokens[at].key in phrase.unwanted]
        near = len(phrase.every) > 1 or unwanted[0] == 1
        return True if all(unwanted) and not denied and near else None
    mixed = len({tokens[at].denied > 0 for at in core if at >= fresh}) > 1
    if (mixed and _broken(tokens, core)) or (phrase.says == "denied" and not denied):
        return None
    if phrase.says == "absent":
        return None if denied else False
    return not denied


def _broken(tokens: Sequence[Token], core: Sequence[int]) -> bool:
    return any(tokens[at].breaks for at in range(min(core), max(core)))


def _cost(tokens: Sequence[Token], core: Sequence[int]) -> float:
    inside = [tokens[at] for at in range(min(core), max(core)) if tokens[at].breaks]
    return max((CROSSING if token.word == "," else TURNING for token in inside), default=0.0)


def _quoted(tokens: Sequence[Token], meant: Sequence[int], core: Sequence[int]) -> str:
    first, last = meant[0], meant[-1]
    if last - first <= CARRIED and not any(token.word == "…" for token in tokens[first:last]):
        return " ".join(token.word for token in tokens[first : last + 1] if token.word != ",")
    start, end = min(core), max(core)
    near = " ".join(token.word for token in tokens[start : end + 1] if token.word != ",")
    return " … ".join([*(tokens[at].word for at in meant if at < start), near])


def _place(tokens: Sequence[Token], fresh: int, wanted: frozenset[str]) -> list[int] | None:
    """Where the wanted words stand closest together, if that is close enough."""
    at = [place for place in range(len(tokens)) if tokens[place].key or tokens[place].breaks]
    best: tuple[int, list[int]] | None = None
    for start, place in enumerate(at):
        if tokens[place].key not in wanted:
            continue
        missing, others, crossed, got = set(wanted), 0, 0, []
        for here in at[start:]:
            token = tokens[here]
            if token.breaks:
                crossed += not tokens[here - 1].breaks
            elif token.key in missing:
                missing.discard(token.key)
                got.append(here)
            elif token.key not in wanted and token.key not in SUBJECTS:
                others += 1
            if not missing:
                break
            if others + 2 * crossed > SLACK:
                break
        if not missing and got[-1] >= fresh and (best is None or others + 2 * crossed < best[0]):
            best = (others + 2 * crossed, got)
    return best[1] if best else None


def _subject(
    tokens: Sequence[Token], fresh: int, key: str, core: Sequence[int], wanted: frozenset[str]
) -> int | None:
    """Where the part or age nearest to the core is named, no other of its kind between."""
    kind = AGES if key in AGES else PARTS
    rivals = kind - wanted - alike(wanted)
    for at in range(max(core), -1, -1):
        token = tokens[at]
        if token.key == key:
            return at
        if token.key in rivals and fresh <= at < min(core):
            break
        if min(core) - at > CARRIED:
            break
    telling = 0
    for at in range(max(core) + 1, len(tokens)):
        token = tokens[at]
        if token.key == key:
            return at
        if token.key in rivals or token.breaks:
            break
        telling += bool(token.key)
        if telling > SLACK:
            break
    return None


def _other_age(tokens: Sequence[Token], core: Sequence[int], phrase: Phrase) -> bool:
    """Whether the words are about leaves of another age than the phrase, or its finding, is."""
    inside = {tokens[at].key for at in range(min(core), max(core) + 1)} & AGES - {"whole"}
    ours = phrase.every & AGES
    if ours:
        return bool(inside - ours - alike(ours))
    if phrase.age is None:
        return False
    ours = frozenset({phrase.age})
    near = {age: _subject(tokens, 0, age, core, ours) for age in sorted(AGES - {"whole"} - alike(ours))}
    return any(at is not None for at in near.values()) and _subject(tokens, 0, phrase.age, core, ours) is None


def alike(wanted: frozenset[str]) -> frozenset[str]:
    """The ages that mean the same as one wanted: what is new on a plant is at its top."""
    return _NEW if wanted & _NEW else frozenset()
