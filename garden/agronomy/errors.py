"""What the calculations refuse, and how they say it."""

import math


class AgronomyError(ValueError):
    """Base of everything a calculation refuses."""


class UnitError(AgronomyError):
    """A unit that is unknown or measures something else; names the unit and the allowed ones."""

    def __init__(self, unit: str, allowed: tuple[str, ...]) -> None:
        self.unit, self.allowed = unit, allowed
        super().__init__(f"The unit “{unit}” cannot be used here; use one of: {', '.join(allowed)}.")


class NumberTextError(AgronomyError):
    """A text that is not one clear number; names the text and how to write it."""

    def __init__(self, written: str, advice: str) -> None:
        self.written = written
        super().__init__(f"“{written}” is not a clear number; {advice}.")


class OutOfRange(AgronomyError):  # noqa: N818 - says what is wrong in two words
    """A value outside what the calculation can use; names the field, the value and what is allowed."""

    def __init__(self, field: str, value: float, allowed: str) -> None:
        self.field, self.value, self.allowed = field, value, allowed
        super().__init__(f"{field} is {value:g}; allowed is {allowed}. Check the number and its unit.")


def check_range(field: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` when low <= value <= high; raises OutOfRange otherwise, also for not-a-number."""
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRange(field, value, f"{low:g} to {high:g} {unit}".rstrip())
    return value


def check_above(field: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` when low < value <= high; raises OutOfRange otherwise, also for not-a-number."""
    if not (math.isfinite(value) and low < value <= high):
        raise OutOfRange(field, value, f"above {low:g} and up to {high:g} {unit}".rstrip())
    return value
