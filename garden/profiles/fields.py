"""A form field for one edge of a band: typed in the shop's units, kept in the reading's stored unit."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from garden.agronomy.errors import NumberTextError, UnitError
from garden.agronomy.units import System, display, parse_value
from garden.reference.schema import Reading


class EdgeField(forms.CharField):
    """Cleans to a float in the stored unit, or None. What was not changed is not rounded.

    `stored` is filled in; `greyed` is shown in grey, for it holds when nothing is written.
    """

    def __init__(
        self, *, reading: Reading, system: System, label: Any, stored: float | None, greyed: float | None
    ) -> None:
        self.reading, self.system = reading, system
        self.known = {self.show(edge): edge for edge in (greyed, stored) if edge is not None}
        super().__init__(
            label=label,
            required=False,
            max_length=40,
            initial="" if stored is None else self.show(stored),
            widget=forms.TextInput(
                attrs={
                    "inputmode": "decimal",
                    "autocomplete": "off",
                    "placeholder": "" if greyed is None else self.show(greyed),
                }
            ),
        )

    @property
    def unit(self) -> str:
        """The unit a bare number is in."""
        return display(0.0, self.reading.unit, self.system)[1]

    def show(self, value: float) -> str:
        """A stored value in the shop's unit, as it can be typed again."""
        shown = display(value, self.reading.unit, self.system)[0]
        return f"{round(shown, max(self.reading.decimals, 1)) + 0.0:g}"

    def clean(self, value: Any) -> Any:
        typed: str = super().clean(value).strip()
        if not typed:
            return None
        if typed in self.known:
            return self.known[typed]
        try:
            edge = parse_value(typed, self.unit)
        except NumberTextError:
            raise ValidationError(
                _("“%(typed)s” is not one clear number. Write digits, such as 21.5 or 21,5.")
                % {"typed": typed}
            ) from None
        except UnitError as error:
            raise ValidationError(
                _("The unit in “%(typed)s” does not fit here. Use one of: %(units)s.")
                % {"typed": typed, "units": ", ".join(error.allowed)}
            ) from None
        if not self.reading.min <= edge <= self.reading.max:
            limits = {"low": self.show(self.reading.min), "high": self.show(self.reading.max)}
            raise ValidationError(
                _("“%(typed)s” is not possible here: it must be from %(low)s to %(high)s %(unit)s.")
                % {"typed": typed, "unit": self.unit, **limits}
            )
        return edge
