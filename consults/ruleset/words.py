"""Findings proposed from a grower's own words. Pure; English only for now.

A proposal is never more than that, unless `diagnose --read-story` is asked to take it at its word.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from consults.ruleset.schema import Finding
from garden.reference.schema import text

SLACK = 3  # other words that may stand between those of a phrase
REACH = 4  # how far before a phrase a "no" still counts for it
LONE_WORD = 7  # letters from which one word alone is telling enough

_WORD = r"[a-z]+(?:'[a-z]+)?"
_CLAUSE_ENDS = r"[.;:!?,\n]|\bbut\b|\balthough\b|\bthough\b"
_NO = frozenset(
    "no not never none without nothing neither nor isn't aren't don't doesn't didn't wasn't haven't "
    "hasn't can't cannot".split()
)
_SMALL = frozenset(
    "a an the and or of on in at to it its it's is are was were be been they them their there this "
    "that these those i my me we our you your have has had do does did will would can could with for "
    "from by as so very really just some any all quite only also still even get gets got getting go "
    "goes going look looks looking like seem seems turn turns turned turning become becomes".split()
)


@dataclass(frozen=True)
class Proposal:
    """A finding the words suggest, as present or (after a "no") as absent, and the words that did."""

    code: str
    present: bool
    words: str


def propose(story: str, findings: Mapping[str, Finding]) -> list[Proposal]:
    """Return at most one proposal for each finding, in order of code; what is said to be there wins.

    A phrase of a finding (its plain words or a synonym) is found when all its telling words stand close
    together in one clause, in any order and with usual endings. Phrases: shop's own words, no source.
    """
    clauses = [clause for clause in re.split(_CLAUSE_ENDS, story.lower()) if clause]
    proposals = []
    for code, finding in sorted(findings.items()):
        found = [hit for clause in clauses for hit in _hits(clause, code, finding)]
        if found:
            proposals.append(next((hit for hit in found if hit.present), found[0]))
    return proposals


def _hits(clause: str, code: str, finding: Finding) -> Iterator[Proposal]:
    words = re.findall(_WORD, clause.replace("’", "'"))
    stems = [_stem(word) for word in words]
    for phrase in (text(finding.plain), *finding.synonyms):
        said = re.findall(_WORD, phrase.lower())
        wanted = {_stem(word) for word in said if word not in _SMALL}
        negative = bool(wanted & _NO)
        wanted -= _NO
        if len(wanted) < 2 and (len(said) != 1 or len(said[0]) < LONE_WORD):
            continue
        place = _place(stems, wanted)
        if place is not None:
            denied = any(word in _NO for word in words[max(0, place[0] - REACH) : place[1]])
            yield Proposal(code, denied == negative, " ".join(words[place[0] : place[1]]))


def _place(stems: list[str], wanted: set[str]) -> tuple[int, int] | None:
    """The shortest stretch of the clause that holds all wanted words, if it is short enough."""
    if not wanted:
        return None
    best: tuple[int, int] | None = None
    for start in range(len(stems)):
        for end in range(start + len(wanted), min(len(stems), start + len(wanted) + SLACK) + 1):
            if wanted <= set(stems[start:end]) and (best is None or end - start < best[1] - best[0]):
                best = (start, end)
    return best


def _stem(word: str) -> str:
    """The word without its usual English ending: "yellowing" is "yellow", "leaves" is "leaf"."""
    if word in _NO:
        return word
    for ending, instead in (("eaves", "eaf"), ("ies", "y"), ("pping", "p"), ("ing", ""), ("ed", "")):
        if word.endswith(ending) and len(word) - len(ending) + len(instead) >= 3:
            return word[: -len(ending)] + instead
    return word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word
