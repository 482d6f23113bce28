"""A number as people type it at the bench: in their units, with a decimal comma if they like."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import formats
from django.utils.translation import gettext as _

from garden.agronomy.errors import NumberTextError, UnitError
from garden.agronomy.units import check_unit, parse_value, to_base
from garden.bench.tool import Field
from garden.choices import Units

_NUMBER_ONLY = re.compile(r"[+\-−]?[\d.,]+")


def short(value: float) -> str:
    """A number in a field: four figures, no exponent."""
    written = f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"
    return written if "e" not in written else f"{value:.6f}".rstrip("0")


class AmountField(forms.CharField):
    """Cleans to a float in the stored unit, or None."""

    def __init__(self, spec: Field, system: str, kept: float | None) -> None:
        self.spec, self.us = spec, system == Units.US
        self.unit = (spec.us_unit if self.us else spec.metric_unit) or spec.unit or ""
        self._kept = (short(self.shown(kept)), kept) if kept is not None else None
        attrs = {"inputmode": "decimal", "autocomplete": "off", "placeholder": self._placeholder()}
        super().__init__(
            label=f"{spec.label} ({self.unit})" if self.unit else spec.label,
            help_text=spec.help,
            required=False,
            max_length=40,
            widget=forms.TextInput(attrs=attrs),
        )

    @property
    def initial_text(self) -> str:
        """What a garden fills in."""
        return self._kept[0] if self._kept else ""

    def shown(self, stored: float) -> float:
        """A stored value in the unit people type in."""
        start, step = self._line()
        return (stored - start) / step

    def _line(self) -> tuple[float, float]:
        """Stored value = start + step × shown value."""
        if self.us and self.spec.us_factor:
            return 0.0, self.spec.us_factor
        if not self._in_table() or self.unit == self.spec.unit:
            return 0.0, 1.0
        zero = to_base(0.0, self.unit)
        return zero, to_base(1.0, self.unit) - zero

    def _in_table(self) -> bool:
        """True when a unit may be typed beside the number."""
        try:
            return bool(self.unit) and check_unit(self.unit, self.spec.unit) == self.spec.unit
        except UnitError:
            return False

    @property
    def example(self) -> float | None:
        """The example in the stored unit: a round number in the units that people type in."""
        if not isinstance(self.spec.example, float | int):
            return None
        start, step = self._line()
        if not self.us or not self.spec.us_unit:
            return float(self.spec.example)
        return start + step * float(f"{self.shown(self.spec.example):.2g}")

    def _placeholder(self) -> str:
        if self.example is None:
            return ""
        shown = formats.localize(float(short(self.shown(self.example))))
        return _("such as %(example)s") % {"example": str(shown).removesuffix(".0")}

    def clean(self, value: Any) -> Any:
        typed: str = super().clean(value).strip()
        if not typed:
            return None
        if self._kept is not None and typed == self._kept[0]:
            return self._kept[1]  # what was not changed is not rounded either
        found = self._parse(typed)
        low, high = self.spec.low, self.spec.high
        slack = 1e-9 * max(1.0, abs(low), abs(high))
        if not low - slack <= found <= high + slack or (self.spec.above and found <= low):
            raise ValidationError(self._refusal(typed))
        return found

    def _parse(self, typed: str) -> float:
        try:
            if self._in_table():
                return parse_value(typed, self.unit)
            if not _NUMBER_ONLY.fullmatch(typed):
                raise NumberTextError(typed, "")
            start, step = self._line()
            return start + step * parse_value(typed, "pH")
        except NumberTextError:
            raise ValidationError(
                _("“%(typed)s” is not one clear number. Write digits, such as 1250 or 6.2 or 6,2.")
                % {"typed": typed}
            ) from None
        except UnitError as error:
            raise ValidationError(
                _("The unit in “%(typed)s” does not fit here. Use one of: %(units)s.")
                % {"typed": typed, "units": ", ".join(error.allowed)}
            ) from None

    def _refusal(self, typed: str) -> str:
        words = {
            "typed": typed,
            "low": short(self.shown(self.spec.low)),
            "high": short(self.shown(self.spec.high)),
            "unit": self.unit,
        }
        sentence = (
            _("“%(typed)s” is not possible here: it must be above %(low)s and at most %(high)s %(unit)s.")
            if self.spec.above
            else _("“%(typed)s” is not possible here: it must be from %(low)s to %(high)s %(unit)s.")
        )
        return (sentence % words).replace(" .", ".")
