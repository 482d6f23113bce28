"""Findings proposed from a grower's own words. Pure; English only for now.

A proposal is never more than that: staff accept or refuse it, unless `diagnose --read-story` is asked to take
it at its word. A phrase of a finding and the story are both brought down to families of words
(`word_families.yaml`), so that "the bottom ones look droopy" meets "lower leaves wilt".
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from consults.ruleset.phrase_index import index
from consults.ruleset.schema import Finding
from consults.ruleset.spoken import Token, sentences
from consults.ruleset.word_hits import AGES, PARTS, SUBJECTS, Hit, alike, hits_in
from garden.reference.schema import text

_AGE_OF = {"old": "old", "young": "young"}  # of a finding
_CARRIED = frozenset({"wilt"})  # also talked on about in the next sentence


@dataclass(frozen=True)
class Proposal:
    """A finding the words suggest, as present or (after a "no") as absent, and the words that did."""

    code: str
    present: bool
    words: str


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
    told: Sequence[Hit] = ()
    for sentence in sentences(story):
        tokens = [*before, *sentence]
        hits = _strongest(hits_in(tokens, len(before), phrases.by_rarest))
        proposals = [Proposal(hit.phrase.code, hit.present, hit.words) for hit in hits]
        for each in [*proposals, *_elsewhere(sentence, [*told, *hits], phrases.twins)]:
            if each.code not in best or (each.present and not best[each.code].present):
                best[each.code] = each
        before, told = _carried(tokens), hits
    return [best[code] for code in sorted(best)]


def _elsewhere(
    sentence: Sequence[Token], told: Sequence[Hit], twins: Mapping[str, frozenset[str]]
) -> Iterator[Proposal]:
    """What was told of leaves of one age and is denied for the other: "the young ones don't have it"."""
    for part in _parts(sentence):
        telling = [token for token in part if token.key]
        ages = {token.key for token in telling if token.denied} & (AGES - {"whole"})
        if not ages or {token.key for token in telling} - SUBJECTS:
            continue
        words = " ".join(token.word for token in part)
        for hit in told:
            ours = hit.phrase.wanted & AGES
            if hit.present and ours and not ours & (ages | alike(frozenset(ages))):
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
    for kind in (PARTS, AGES, _CARRIED):
        named = [token for token in tokens if token.key in kind and not token.denied]
        kept += dict.fromkeys([*named[:1], *named[-1:]])
    return [*kept, Token("…", "", 0, False)] if kept else []


def _strongest(hits: Sequence[Hit]) -> list[Hit]:
    """The hits that no more telling one takes a word from."""
    kept: list[Hit] = []
    order = sorted(hits, key=lambda h: (-h.weight, h.places[-1] - h.places[0], h.phrase.code))
    for hit in order:
        if not any(_rivals(each, hit) for each in kept):
            kept.append(hit)
    return kept


def _rivals(one: Hit, other: Hit) -> bool:
    if one.phrase.code == other.phrase.code or "absent" in (one.phrase.says, other.phrase.says):
        return False
    if "denied" in (one.phrase.says, other.phrase.says) and (
        one.phrase.says == other.phrase.says or one.phrase.unwanted or other.phrase.unwanted
    ):
        return False
    return bool(one.core & other.core)
