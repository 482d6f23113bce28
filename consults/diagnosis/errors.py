"""What can be wrong with a network or with the evidence put to it."""

import difflib
from collections.abc import Iterable


class NetworkError(ValueError):
    """The numbers or codes of a network are impossible."""


class EvidenceError(ValueError):
    """The evidence contradicts itself or holds an impossible number."""


class UnknownCodeError(ValueError):
    """A code is not known; `kind` and `code` say which, the text names the nearest spellings."""

    def __init__(self, kind: str, code: str, known: Iterable[str]) -> None:
        self.kind = kind
        self.code = code
        super().__init__(f"The {kind} '{code}' is not known. {nearest(code, known)}")


def nearest(code: str, known: Iterable[str]) -> str:
    """Return a sentence with the known codes spelled most like `code`."""
    close = difflib.get_close_matches(code, sorted(known), n=3, cutoff=0.5)
    if not close:
        return "No known code is spelled like it; the vocabulary lists all of them."
    return f"Nearest spellings: {', '.join(close)}."
