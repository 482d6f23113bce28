"""Who somebody is, as text: the names, addresses and numbers a grower has or had, and finding them in words.

Works on plain values; only `identity_of` asks the database.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from garden.models import Grower
from garden.models.growers import phone_digits

INSTEAD = "(erased)"
_DIGITS_ENOUGH = 6  # fewer make a house number, a price, a case
_BETWEEN_DIGITS = r"[\s().\-/]*"


@dataclass(frozen=True)
class Identity:
    """`names`, `emails` and `phones` are as they were typed, without empty ones."""

    names: frozenset[str] = frozenset()
    emails: frozenset[str] = frozenset()
    phones: frozenset[str] = frozenset()

    @property
    def terms(self) -> list[str]:
        """Everything that must not be found any more, longest first."""
        return sorted(self.names | self.emails | self.phones, key=lambda term: (-len(term), term))

    @cached_property
    def _patterns(self) -> list[re.Pattern[str]]:
        return [
            *(_address_pattern(email) for email in sorted(self.emails, key=len, reverse=True)),
            *(_name_pattern(name) for name in sorted(self.names, key=len, reverse=True)),
            *(_phone_pattern(phone) for phone in sorted(self.phones, key=len, reverse=True)),
        ]

    def found_in(self, words: str) -> bool:
        return any(pattern.search(words) for pattern in self._patterns)

    def taken_from(self, words: str) -> str:
        """The words with everything that says who it was replaced."""
        for pattern in self._patterns:
            words = pattern.sub(INSTEAD, words)
        return words

    def without(self, others: "Identity") -> "Identity":
        """What somebody else does not share, and what is particular enough to be looked for among the words
        of others: of names, only those of two words or more.
        """
        names = frozenset(name for name in self.names if len(name.split()) > 1)
        return Identity(
            _not_in(names, others.names),
            _not_in(self.emails, others.emails),
            _not_in(self.phones, others.phones),
        )

    def __bool__(self) -> bool:
        return bool(self.names or self.emails or self.phones)


def _not_in(mine: frozenset[str], others: frozenset[str]) -> frozenset[str]:
    shared = {term.casefold() for term in others}
    return frozenset(term for term in mine if term.casefold() not in shared)


def _name_pattern(name: str) -> re.Pattern[str]:
    """A name of several words is found however it is spaced or written; a single word only as it stands, so
    that somebody called Basil leaves the basil in peace.
    """
    words = name.split()
    pattern = r"(?<!\w)" + r"\s+".join(re.escape(word) for word in words) + r"(?!\w)"
    return re.compile(pattern, re.IGNORECASE if len(words) > 1 else 0)


def _address_pattern(email: str) -> re.Pattern[str]:
    return re.compile(r"(?<![\w.+-])" + re.escape(email) + r"(?![\w-])", re.IGNORECASE)


def _phone_pattern(phone: str) -> re.Pattern[str]:
    """The digits in any grouping; a number too short for that only as it was typed."""
    digits = phone_digits(phone)
    if len(digits) < _DIGITS_ENOUGH:
        return re.compile(r"(?<!\w)" + re.escape(phone) + r"(?!\w)")
    return re.compile(r"(?<!\d)\+?\(?" + _BETWEEN_DIGITS.join(digits) + r"(?!\d)")


def changed_text(value: Any, change: Callable[[str], str]) -> Any:
    """`value`, a JSON value or a text, with every text in it changed; keys of objects stay."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, list):
        return [changed_text(item, change) for item in value]
    if isinstance(value, dict):
        return {key: changed_text(item, change) for key, item in value.items()}
    return value


def texts_in(value: Any) -> Iterator[str]:
    """Every text in a JSON value, keys of objects included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for item in value:
            yield from texts_in(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield str(key)
            yield from texts_in(item)


def identity_of(pks: Iterable[int]) -> Identity:
    """All that these growers are and were called, by the rows and their history."""
    pks = list(pks)
    now = Grower.objects.filter(pk__in=pks).values_list("name", "email", "phone")
    then = Grower.history.filter(id__in=pks).values_list("name", "email", "phone")
    return gathered([*now, *then])


def gathered(rows: Iterable[tuple[str, str, str]]) -> Identity:
    """The identity made of rows of (name, email, phone)."""
    names, emails, phones = set(), set(), set()
    for name, email, phone in rows:
        names.add(name.strip())
        emails.add(email.strip())
        phones.add(phone.strip())
    return Identity(
        frozenset(name for name in names if name and not name.startswith(ERASED_NAME)),
        frozenset(filter(None, emails)),
        frozenset(filter(None, phones)),
    )


ERASED_NAME = "Erased grower"
