"""A grower's story as sentences of words, each brought to its family and knowing whether a "no" reaches it.

Pure; English only for now. Families, lone words and what is told by absence stand in `word_families.yaml`.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import snowballstemmer
import yaml

from consults.ruleset.small_words import (
    FOUND,
    LOOKED,
    MIND,
    NEW_SUBJECT,
    NO,
    PERSON,
    SMALL,
    TURNS,
    VERBAL,
)

REACH = 5  # telling words after a "no" that it still counts for
TYPO = 6  # letters from which a word one slip away from a known one is taken for it

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?|[.;:!?,\n]")
_ENDS = frozenset(".;:!?\n")
_STEMMER = snowballstemmer.stemmer("english")
_FILE = Path(__file__).with_name("word_families.yaml")


@dataclass(frozen=True)
class Token:
    """A word as written, its family or stem ("" when it tells nothing) and how near a "no" is."""

    word: str
    key: str
    denied: int  # 0, or how many telling words after a "no" it stands, 1 being the first
    breaks: bool  # a comma or a "but": what stands on the other side is another part of the sentence


@dataclass(frozen=True)
class Families:
    """What `word_families.yaml` says."""

    known: Mapping[str, str]  # family by stem or by expression
    longest: int  # words of the longest expression
    alone: frozenset[str]
    denials: Mapping[str, tuple[str, ...]]  # by finding: what, when denied, tells that it is absent
    absences: Mapping[str, tuple[str, ...]]  # by finding: what tells that it is absent
    strict: frozenset[str]  # findings for which the top of a plant is not the same as what is new
    slips: Mapping[str, str]  # family word by what is left of it without one letter


def sentences(story: str) -> Iterator[list[Token]]:
    """Yield the sentences of the story, none of them empty."""
    words = _WORD.findall(
        story.lower().replace("’", "'").replace("-", " ").replace("–", ",").replace("—", ",")
    )
    sentence: list[str] = []
    for word in [*words, "."]:
        if word in _ENDS:
            if sentence:
                yield _tokens(sentence)
            sentence = []
        else:
            sentence.append(word.strip())


def _tokens(words: Sequence[str]) -> list[Token]:
    known, longest = families().known, families().longest
    joined: list[tuple[str, str]] = []
    at = 0
    while at < len(words):
        for length in range(min(longest, len(words) - at), 1, -1):
            spoken = " ".join(words[at : at + length])
            if spoken in known:
                joined.append((spoken, known[spoken]))
                at += length
                break
        else:
            joined.append((words[at], _key(words[at])))
            at += 1
    denied = _denied(joined)
    return [
        Token(word, key, no, word == "," or (word in TURNS and not key))
        for (word, key), no in zip(joined, denied, strict=True)
    ]


@lru_cache(maxsize=4096)
def _key(word: str) -> str:
    if word in NO or word == ",":
        return ""
    known = families().known
    key = known.get(f"={word}") or known.get(stem(word))
    if key is not None:
        return key
    if word in SMALL or word in TURNS:
        return ""
    return _mended(word) or stem(word)


def _mended(word: str) -> str:
    """The family of the word that this one misses by one slip of the pen, or ""."""
    if len(word) < TYPO:
        return ""
    slips = families().slips
    found = (slips.get(each) for each in (word, *_without_one(word)))
    return next((family for family in found if family), "")


def _without_one(word: str) -> list[str]:
    return [word[:at] + word[at + 1 :] for at in range(1, len(word) - 1)]


def _denied(tokens: Sequence[tuple[str, str]]) -> list[int]:
    """For each token whether a "no" counts for it: 0, or how many telling words after the "no" it stands.

    A "no" reaches forward over `REACH` telling words, not past a "but" or a new subject after "and", and over
    a comma only inside a list that ends with "or" or "nor"; a closing "none" or "nothing", and a "not" with
    "find" or "see", reach back to the comma.
    """
    words = [word for word, _key in tokens]
    denied = [0] * len(tokens)
    _looked_for(words, denied)
    for at, word in enumerate(words):
        if not _says_no(words, at):
            continue
        after = [each for each in words[at + 1 : at + 5] if each not in SMALL or each in MIND]
        if after and after[0] in MIND:
            if after[0] == "only":
                denied[words.index("only", at)] = 1
            continue
        closing = not any(key for _word, key in tokens[at + 1 :])
        if word != "no" and (closing or (after[:1] and after[0] in FOUND)):
            _back(words, at, denied)
        _forward(tokens, at, denied)
    return denied


def _looked_for(words: Sequence[str], denied: list[int]) -> None:
    """What was looked for is not there until it is found: "I checked for whitefly"."""
    for at in range(len(words) - 1):
        if words[at] in LOOKED and words[at + 1] == "for":
            for place in range(at + 2, len(words)):
                if words[place] == "," or words[place] in TURNS:
                    break
                denied[place] = 1


def _says_no(words: Sequence[str], at: int) -> bool:
    following = words[at + 1 : at + 2]
    return words[at] in NO or (words[at] in {"free", "instead", "clear"} and following in (["of"], ["from"]))


def _forward(tokens: Sequence[tuple[str, str]], start: int, denied: list[int]) -> None:
    reached = 0
    for at in range(start + 1, len(tokens)):
        word, key = tokens[at]
        if word == "," and not _listed([each for each, _key in tokens[at + 1 : at + 6]]):
            return
        following = tokens[at + 1][0] if at + 1 < len(tokens) else ""
        if (word in TURNS and not key) or (word in PERSON and reached == 0 and at > start + 1):
            return
        if word == "and" and (following in NEW_SUBJECT or tokens[start][0] in VERBAL):
            return
        if key:
            reached += 1
            if reached > REACH:
                return
            denied[at] = reached


def _listed(rest: Sequence[str]) -> bool:
    return "or" in rest or "nor" in rest


def _back(words: Sequence[str], start: int, denied: list[int]) -> None:
    for at in range(start - 1, -1, -1):
        if words[at] == "," or words[at] in TURNS or (words[at] == "and" and words[at + 1] in NEW_SUBJECT):
            return
        denied[at] = 1


@lru_cache(maxsize=1)
def families() -> Families:
    """Raises ValueError that names the file and the family when a word stands in two."""
    content = yaml.safe_load(_FILE.read_text(encoding="utf-8"))
    known: dict[str, str] = {}
    slips: dict[str, str] = {}
    for family, words in content["en"].items():
        for word in words:
            key = word if " " in word or word.startswith("=") else stem(word)
            if known.setdefault(key, family) != family:
                raise ValueError(
                    f"{_FILE.name}: {family}: '{word}' stands in '{known[key]}' too. Keep it in one."
                )
            if key[0] != "=" and " " not in word and len(word) >= TYPO:
                for each in (word, *_without_one(word)):
                    slips.setdefault(each, family)
    told = {
        how: {code: tuple(phrases) for code, phrases in content.get(how, {}).items()}
        for how in ("denied", "absent")
    }
    strict = frozenset(content.get("strict", ()))
    longest = max(len(word.split()) for word in known)
    alone = frozenset(content["alone"])
    return Families(known, longest, alone, told["denied"], told["absent"], strict, slips)


def stem(word: str) -> str:
    """The word without its usual English ending."""
    stemmed: str = _STEMMER.stemWord(word)
    return stemmed
