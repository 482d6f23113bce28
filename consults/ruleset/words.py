"""Findings proposed from a grower's own words. Pure; English only for now.

A proposal is never more than that: staff accept or refuse it, unless `diagnose --read-story` is asked to take
it at its word. A phrase of a finding and the story are both brought down to families of words
(`word_families.yaml`), so that "the bottom ones look droopy" meets "lower leaves wilt".
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import snowballstemmer
import yaml

from consults.ruleset.schema import Finding
from garden.reference.schema import text

SLACK = 3  # other telling words that may stand between those of a phrase
REACH = 5  # telling words after a "no" that it still counts for
LONE_WORD = 7  # letters from which one word alone is telling enough

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?|[.;:!?,\n]")
_ENDS = frozenset(".;:!?\n")
_TURNS = frozenset("but although though however yet except whereas while".split())
_NO = frozenset(
    "no not never none without nothing neither nor isn't aren't don't doesn't didn't wasn't weren't won't "
    "haven't hasn't hadn't can't cannot couldn't wouldn't".split()
)
# After these a "no" is about the speaker's mind, not the plant: "I don't know why", "not sure if".
_MIND = frozenset("know sure think understand mind care help only matter believe remember".split())
_FOUND = frozenset("see saw seen find found spot spotted notice noticed".split())
_SMALL = frozenset(
    "a an the and or of on in at to it its it's is are was were be been they them their there this "
    "that these those i i'm i've me we our you your he she his her my have had has do does did will would "
    "can could with for from by as so very really just some any quite also still even get gets got getting "
    "go goes going went look looks looking looked like seem seems turn turns turned turning become becomes "
    "became come comes came kind sort bit lot lots of almost nearly rather pretty now then here plant plants "
    "thing things "
    "one ones up out".split()
)
_STEMMER = snowballstemmer.stemmer("english")
_FILE = Path(__file__).with_name("word_families.yaml")
_UNDERSTOOD = "leaf"  # people say "the lower ones": a leaf is understood when two other words tell


@dataclass(frozen=True)
class Proposal:
    """A finding the words suggest, as present or (after a "no") as absent, and the words that did."""

    code: str
    present: bool
    words: str


@dataclass(frozen=True)
class _Token:
    word: str  # as written
    key: str  # its family, else its stem; "" for a word that tells nothing
    denied: bool


@dataclass(frozen=True)
class _Phrase:
    code: str
    wanted: frozenset[str]
    negative: bool


@dataclass(frozen=True)
class _Hit:
    code: str
    present: bool
    words: str
    place: tuple[int, int]
    wanted: frozenset[str]
    crossing: bool  # a comma stands inside


def propose(story: str, findings: Mapping[str, Finding]) -> list[Proposal]:
    """Return at most one proposal for each finding, in order of code; what is said to be there wins.

    A phrase of a finding (its plain words or a synonym) is found when all its telling words, or words of
    their families, stand close together in one sentence, in any order and with usual endings. A phrase
    whose words are part of a longer phrase found at the same place gives way to it: "new leaves yellow with
    green veins" is not also "new leaves yellow". Phrases: shop's own words, no source.
    """
    phrases = _phrases(tuple((f.code, (text(f.plain), *f.synonyms)) for f in findings.values()))
    best: dict[str, _Hit] = {}
    for sentence in _sentences(story):
        for hit in _strongest(_hits(sentence, phrases)):
            if hit.code not in best or (hit.present and not best[hit.code].present):
                best[hit.code] = hit
    return [Proposal(code, hit.present, hit.words) for code, hit in sorted(best.items())]


def _strongest(hits: Sequence[_Hit]) -> Iterator[_Hit]:
    """Without what a longer phrase at the same place says better, or one that needs no comma inside."""
    for hit in hits:
        around = [o for o in hits if o.place[0] <= hit.place[1] and hit.place[0] <= o.place[1]]
        better = ((o.code != hit.code and hit.wanted < o.wanted) or hit.crossing > o.crossing for o in around)
        if not any(better):
            yield hit


def _hits(sentence: Sequence[_Token], phrases: Sequence[_Phrase]) -> list[_Hit]:
    telling = [at for at, token in enumerate(sentence) if token.key]
    keys = [sentence[at].key for at in telling]
    there = frozenset(keys)
    hits = []
    for phrase in phrases:
        place = _place(keys, phrase.wanted) if phrase.wanted <= there else None
        if place is None:
            continue
        first, last = telling[place[0]], telling[place[1] - 1]
        crossing = any(token.word == "," for token in sentence[first:last])
        if crossing and place[1] - place[0] > len(phrase.wanted):
            continue
        meant = [sentence[at] for at in telling[place[0] : place[1]] if sentence[at].key in phrase.wanted]
        denied = any(token.denied for token in meant)
        words = " ".join(token.word for token in sentence[first : last + 1] if token.word != ",")
        hits.append(
            _Hit(phrase.code, denied == phrase.negative, words, (first, last), phrase.wanted, crossing)
        )
    return hits


def _place(keys: Sequence[str], wanted: frozenset[str]) -> tuple[int, int] | None:
    """The shortest stretch of `keys` that holds all wanted ones, if it is short enough."""
    best: tuple[int, int] | None = None
    for start, key in enumerate(keys):
        if key not in wanted:
            continue
        for end in range(start + len(wanted), min(len(keys), start + len(wanted) + SLACK) + 1):
            if wanted <= set(keys[start:end]):
                if best is None or end - start < best[1] - best[0]:
                    best = (start, end)
                break
    return best


@lru_cache(maxsize=8)
def _phrases(findings: tuple[tuple[str, tuple[str, ...]], ...]) -> tuple[_Phrase, ...]:
    found: dict[tuple[str, frozenset[str], bool], _Phrase] = {}
    for code, phrases in findings:
        for phrase in phrases:
            tokens = [token for sentence in _sentences(phrase) for token in sentence]
            wanted = frozenset(token.key for token in tokens if token.key)
            if len(wanted - {_UNDERSTOOD}) >= 2:
                wanted -= {_UNDERSTOOD}
            if len(wanted) >= 2 or (len(tokens) == 1 and _alone(tokens[0])):
                negative = any(token.denied for token in tokens)
                found.setdefault((code, wanted, negative), _Phrase(code, wanted, negative))
    return tuple(found.values())


def _alone(token: _Token) -> bool:
    return len(token.word) >= LONE_WORD or token.key in _families().alone


def _sentences(story: str) -> Iterator[list[_Token]]:
    """The story as sentences of tokens, each knowing whether a "no" reaches it."""
    words = _WORD.findall(story.lower().replace("’", "'").replace("-", " "))
    sentence: list[str] = []
    for word in [*words, "."]:
        if word in _ENDS or word in _TURNS:
            if sentence:
                yield _tokens(sentence)
            sentence = []
        else:
            sentence.append(word)


def _tokens(words: Sequence[str]) -> list[_Token]:
    expressions, longest = _families().known, _families().longest
    joined: list[tuple[str, str]] = []
    at = 0
    while at < len(words):
        for length in range(min(longest, len(words) - at), 0, -1):
            spoken = " ".join(words[at : at + length])
            key = expressions.get(spoken if length > 1 else _stem(spoken))
            if key is not None and (length > 1 or words[at] not in _NO):
                joined.append((spoken, key))
                at += length
                break
        else:
            word = words[at]
            joined.append((word, "" if word in _SMALL or word in _NO or word == "," else _stem(word)))
            at += 1
    denied = _denied(joined)
    return [_Token(word, key, no) for (word, key), no in zip(joined, denied, strict=True)]


def _denied(tokens: Sequence[tuple[str, str]]) -> list[bool]:
    """For each token whether a "no" counts for it.

    A "no" reaches forward over `REACH` telling words and over a comma only inside a list that ends with
    "or" or "nor"; a closing "none" or "nothing", and a "not" with "find" or "see", reach back to the comma.
    """
    words = [word for word, _key in tokens]
    denied = [False] * len(tokens)
    for at, word in enumerate(words):
        if word not in _NO:
            continue
        after = [each for each in words[at + 1 : at + 4] if each not in _SMALL or each in _MIND]
        if after and after[0] in _MIND:
            continue
        if not any(key for _word, key in tokens[at + 1 :]) or (
            word != "no" and after[:1] and after[0] in _FOUND
        ):
            _back(words, at, denied)
        _forward(tokens, at, denied)
    return denied


def _forward(tokens: Sequence[tuple[str, str]], start: int, denied: list[bool]) -> None:
    reached = 0
    for at in range(start + 1, len(tokens)):
        word, key = tokens[at]
        if word == "," and not _listed([each for each, _key in tokens[at + 1 : at + 6]]):
            return
        if key:
            reached += 1
            if reached > REACH:
                return
            denied[at] = True


def _listed(rest: Sequence[str]) -> bool:
    return "or" in rest or "nor" in rest


def _back(words: Sequence[str], start: int, denied: list[bool]) -> None:
    for at in range(start - 1, -1, -1):
        if words[at] == ",":
            return
        denied[at] = True


@dataclass(frozen=True)
class _Families:
    known: Mapping[str, str]  # family by stem or by expression
    longest: int  # words of the longest expression
    alone: frozenset[str]


@lru_cache(maxsize=1)
def _families() -> _Families:
    """Raises ValueError that names the file and the family when a word stands in two."""
    content: Mapping[str, Mapping[str, Sequence[str]]] = yaml.safe_load(_FILE.read_text(encoding="utf-8"))
    known: dict[str, str] = {}
    for family, words in content["en"].items():
        for word in words:
            key = word if " " in word else _stem(word)
            if known.setdefault(key, family) != family:
                raise ValueError(
                    f"{_FILE.name}: {family}: '{word}' stands in '{known[key]}' too. Keep it in one."
                )
    return _Families(known, max(len(word.split()) for word in known), frozenset(content["alone"]))


def _stem(word: str) -> str:
    stemmed: str = _STEMMER.stemWord(word)
    return stemmed
