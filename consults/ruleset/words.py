"""Findings proposed from a grower's own words. Pure; English only for now.

A proposal is never more than that: staff accept or refuse it, unless `diagnose --read-story` is asked to take
it at its word. A phrase of a finding and the story are both brought down to families of words
(`word_families.yaml`), so that "the bottom ones look droopy" meets "lower leaves wilt".
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from consults.ruleset.phrase_index import Phrase, index
from consults.ruleset.schema import Finding
from consults.ruleset.spoken import Token, sentences
from garden.reference.schema import text

SLACK = 3  # other telling words that may stand between those of a phrase
CROSSING = 2.0  # what a phrase loses that takes its words from both sides of a comma
TURNING = 2.5  # or of a "but"
CARRIED = 14  # words back from which a part of the plant, or the age of leaves, is still what is talked of

_AGES = frozenset({"old", "young", "top", "whole"})
_PARTS = frozenset({"leaf", "root", "stem", "flower", "fruit", "soil", "cutting", "seedling", "tank"})
_SUBJECTS = _AGES | _PARTS
_AGE_OF = {"old": "old", "young": "young"}  # of a finding
_NEW = frozenset({"young", "top"})
_CARRIED = frozenset({"wilt"})  # also talked on about in the next sentence


@dataclass(frozen=True)
class Proposal:
    """A finding the words suggest, as present or (after a "no") as absent, and the words that did."""

    code: str
    present: bool
    words: str


@dataclass(frozen=True)
class _Hit:
    phrase: Phrase
    present: bool
    places: tuple[int, ...]  # of the words meant, in the text
    core: frozenset[int]  # those that say what is the matter, not where
    words: str
    weight: float


def propose(story: str, findings: Mapping[str, Finding]) -> list[Proposal]:
    """Return at most one proposal for each finding, in order of code; what is said to be there wins.

    A phrase of a finding (its plain words or a synonym) is found when all its telling words, or words of
    their families, stand close together in one sentence, in any order and with usual endings. The part of
    the plant and the age of the leaves may have been named shortly before. Of phrases found in the same words
    the most telling one stands: "new leaves yellow with green veins" is not also "new leaves yellow".
    Phrases: shop's own words, no source.
    """
    known = tuple(
        (f.code, _AGE_OF.get(f.leaf_age or ""), (text(f.plain), *f.synonyms))
        for f in sorted(findings.values(), key=lambda f: f.code)
    )
    phrases = index(known)
    best: dict[str, Proposal] = {}
    before: list[Token] = []
    told: Sequence[_Hit] = ()
    for sentence in sentences(story):
        tokens = [*before, *sentence]
        hits = _strongest(_hits(tokens, len(before), phrases.by_rarest))
        proposals = [Proposal(hit.phrase.code, hit.present, hit.words) for hit in hits]
        for each in [*proposals, *_elsewhere(sentence, [*told, *hits], phrases.twins)]:
            if each.code not in best or (each.present and not best[each.code].present):
                best[each.code] = each
        before, told = _carried(tokens), hits
    return [best[code] for code in sorted(best)]


def _elsewhere(
    sentence: Sequence[Token], told: Sequence[_Hit], twins: Mapping[str, frozenset[str]]
) -> Iterator[Proposal]:
    """What was told of leaves of one age and is denied for the other: "the young ones don't have it"."""
    for part in _parts(sentence):
        telling = [token for token in part if token.key]
        ages = {token.key for token in telling if token.denied} & (_AGES - {"whole"})
        if not ages or {token.key for token in telling} - _SUBJECTS:
            continue
        words = " ".join(token.word for token in part)
        for hit in told:
            ours = hit.phrase.wanted & _AGES
            if hit.present and ours and not ours & (ages | _alike(frozenset(ages))):
                yield from (Proposal(code, False, words) for code in sorted(twins.get(hit.phrase.code, ())))


def _parts(sentence: Sequence[Token]) -> Iterator[list[Token]]:
    part: list[Token] = []
    for token in sentence:
        if token.breaks:
            yield part
            part = []
        else:
            part.append(token)
    yield part


def _carried(tokens: Sequence[Token]) -> list[Token]:
    """What the next sentence may go on talking of: the first and the last part and age named."""
    kept: list[Token] = []
    for kind in (_PARTS, _AGES, _CARRIED):
        named = [token for token in tokens if token.key in kind and not token.denied]
        kept += dict.fromkeys([*named[:1], *named[-1:]])
    return [*kept, Token("…", "", 0, False)] if kept else []


def _strongest(hits: Sequence[_Hit]) -> list[_Hit]:
    """The hits that no more telling one takes a word from."""
    kept: list[_Hit] = []
    order = sorted(hits, key=lambda h: (-h.weight, h.places[-1] - h.places[0], h.phrase.code))
    for hit in order:
        if not any(_rivals(each, hit) for each in kept):
            kept.append(hit)
    return kept


def _rivals(one: _Hit, other: _Hit) -> bool:
    if one.phrase.code == other.phrase.code or "absent" in (one.phrase.says, other.phrase.says):
        return False
    if "denied" in (one.phrase.says, other.phrase.says) and (
        one.phrase.says == other.phrase.says or one.phrase.unwanted or other.phrase.unwanted
    ):
        return False
    return bool(one.core & other.core)


def _hits(tokens: Sequence[Token], fresh: int, phrases: Mapping[str, Sequence[Phrase]]) -> list[_Hit]:
    there = frozenset(token.key for token in tokens)
    found = []
    for key in sorted(there & phrases.keys()):
        for phrase in phrases[key]:
            if phrase.every <= there:
                hit = _hit(tokens, fresh, phrase)
                if hit:
                    found.append(hit)
    return found


def _hit(tokens: Sequence[Token], fresh: int, phrase: Phrase) -> _Hit | None:
    core_keys = (phrase.every - _SUBJECTS) | phrase.unwanted or phrase.every
    core = _place(tokens, fresh, core_keys)
    if core is None:
        return None
    places = set(core)
    for key in sorted(phrase.every - core_keys):
        at = _subject(tokens, fresh, key, core, phrase.every)
        if at is None or (at < fresh and key == "leaf" and len(core) == 1):
            return None
        places.add(at)
    if _other_age(tokens, core, phrase):
        return None
    meant = sorted(places)
    denied = [tokens[at].denied for at in meant if tokens[at].key in phrase.wanted]
    if not all(tokens[at].denied for at in meant if tokens[at].key in phrase.unwanted):
        return None
    if phrase.unwanted and any(denied):
        return None
    if len(phrase.every) == 1 and phrase.unwanted and tokens[meant[0]].denied > 1:
        return None
    present = not any(denied)
    if phrase.says != "finding" and present == (phrase.says == "denied"):
        return None
    if (
        len({tokens[at].denied > 0 for at in core if at >= fresh}) > 1
        and not phrase.unwanted
        and _broken(tokens, core)
    ):
        return None
    present = present and phrase.says == "finding"
    weight = phrase.weight - _cost(tokens, core)
    return _Hit(phrase, present, tuple(meant), frozenset(core), _quoted(tokens, meant, core), weight)


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
            elif token.key not in wanted and token.key not in _SUBJECTS:
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
    kind = _AGES if key in _AGES else _PARTS
    rivals = kind - wanted - _alike(wanted)
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
    inside = {tokens[at].key for at in range(min(core), max(core) + 1)} & _AGES - {"whole"}
    ours = phrase.every & _AGES
    if ours:
        return bool(inside - ours - _alike(ours))
    if phrase.age is None:
        return False
    ours = frozenset({phrase.age})
    near = {age: _subject(tokens, 0, age, core, ours) for age in sorted(_AGES - {"whole"} - _alike(ours))}
    return any(at is not None for at in near.values()) and _subject(tokens, 0, phrase.age, core, ours) is None


def _alike(wanted: frozenset[str]) -> frozenset[str]:
    return _NEW if wanted & _NEW else frozenset()
