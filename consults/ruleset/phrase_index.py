"""The phrases that tell of a finding, as families of words, looked up by their rarest one. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log

from consults.ruleset.spoken import Token, families, sentences

LONE_WORD = 7  # letters from which one word alone is telling enough

_UNDERSTOOD = "leaf"  # people say "the lower ones": a leaf is understood when two other words tell


@dataclass(frozen=True)
class Phrase:
    """One way to tell of a finding, by its telling words."""

    code: str
    wanted: frozenset[str]
    unwanted: frozenset[str]  # must stand under a "no"
    says: str  # "finding", "denied": tells of it only under a "no", "absent": tells that it is absent
    age: str | None  # of the leaves the finding is about, "old" or "young"
    weight: float

    @property
    def every(self) -> frozenset[str]:
        """All its telling words, whether they must be there or be denied."""
        return self.wanted | self.unwanted


@dataclass(frozen=True)
class Index:
    """The phrases by their rarest word, and the findings that are one sign on leaves of two ages."""

    by_rarest: Mapping[str, tuple[Phrase, ...]]
    twins: Mapping[str, frozenset[str]]


@lru_cache(maxsize=8)
def index(findings: tuple[tuple[str, str | None, tuple[str, ...]], ...]) -> Index:
    """The phrases of the findings, each weighed by how few findings use its words."""
    found: dict[tuple[str, frozenset[str], frozenset[str], str], Phrase] = {}
    for code, age, phrases in findings:
        told = families().denials.get(code, ()), families().absences.get(code, ())
        for says, several in (("finding", phrases), ("denied", told[0]), ("absent", told[1])):
            for phrase in several:
                for each in _variants(_phrase(code, age, phrase, says)):
                    found.setdefault((code, each.wanted, each.unwanted, says), each)
    users: dict[str, set[str]] = {}
    for each in found.values():
        for key in each.every:
            users.setdefault(key, set()).add(each.code)
    weight = {key: log(1 + len(findings) / len(codes)) for key, codes in users.items()}
    rarest_first: dict[str, list[Phrase]] = {}
    for each in found.values():
        rarest = max(sorted(each.every), key=lambda key: weight[key])
        rarest_first.setdefault(rarest, []).append(replace(each, weight=sum(weight[k] for k in each.every)))
    by_rarest = {key: tuple(each) for key, each in rarest_first.items()}
    return Index(by_rarest, _twins([each for each in found.values() if each.says == "finding"]))


def _twins(phrases: Sequence[Phrase]) -> Mapping[str, frozenset[str]]:
    """By finding of old leaves those of new ones told of in otherwise the same words, and the reverse."""
    codes: dict[frozenset[str], set[str]] = {}
    for phrase in phrases:
        codes.setdefault(phrase.wanted, set()).add(phrase.code)
    twins: dict[str, set[str]] = {}
    for phrase in phrases:
        for here, there in (("old", "young"), ("young", "old")):
            if here in phrase.wanted:
                same = codes.get(phrase.wanted - {here} | {there}, set()) - {phrase.code}
                twins.setdefault(phrase.code, set()).update(same)
    return {code: frozenset(same) for code, same in twins.items()}


def _variants(phrases: Iterator[Phrase]) -> Iterator[Phrase]:
    """What is new on a plant is at its top: said of the one, meant of the other."""
    for phrase in phrases:
        yield phrase
        for here, there in (("young", "top"), ("top", "young")):
            if here in phrase.wanted and phrase.code not in families().strict:
                yield replace(phrase, wanted=phrase.wanted - {here} | {there})


def _phrase(code: str, age: str | None, phrase: str, says: str) -> Iterator[Phrase]:
    tokens = [token for sentence in sentences(phrase) for token in sentence if token.key]
    wanted = frozenset(token.key for token in tokens if not token.denied)
    unwanted = frozenset(token.key for token in tokens if token.denied) - wanted
    if len((wanted | unwanted) - {_UNDERSTOOD}) >= 2:
        wanted, unwanted = wanted - {_UNDERSTOOD}, unwanted - {_UNDERSTOOD}
    alone = len(tokens) == 1 and (says != "finding" or tokens[0].denied or _alone(tokens[0]))
    if len(wanted | unwanted) >= 2 or alone:
        yield Phrase(code, wanted, unwanted, says, age, 0.0)


def _alone(token: Token) -> bool:
    """Whether one word is enough: one of the families said to be, or a long word that stands in none."""
    known = families()
    return token.key in known.alone or (
        len(token.word) >= LONE_WORD and token.key not in known.known.values()
    )
