"""Numbers typed on the command line."""

from argparse import ArgumentTypeError


def whole(typed: str) -> int:
    """A whole number of 0 or more."""
    if not (typed.isascii() and typed.isdecimal()) or len(typed) > 9:
        raise ArgumentTypeError(f"{typed!r} is not a whole number from 0 to 999999999.")
    return int(typed)


def at_least_one(typed: str) -> int:
    """A whole number of 1 or more."""
    number = whole(typed)
    if number < 1:
        raise ArgumentTypeError(f"{typed!r} is not a whole number of 1 or more.")
    return number
