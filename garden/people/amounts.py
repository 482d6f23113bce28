"""A form field for an amount: typed in the grower's own units, kept in the stored unit."""

import re
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from garden.agronomy.errors import NumberTextError, UnitError
from garden.agronomy.units import parse_value, to_base
from garden.choices import Units

_NUMBER_ONLY = re.compile(r"[+\-−]?[\d.,]+")


@dataclass(frozen=True)
class Scale:
    """What may be typed. Limits are in the stored unit; `unit` empty means a bare number.

    Outside low..high is refused (`above`: low itself too); outside `usual` is asked about and kept.
    `us_unit` is what people with US units type in; `us_per` names the volume it is counted by, where that is
    no litre.
    """

    unit: str = ""
    low: float = 0.0
    high: float = 1e6
    above: bool = False
    usual: tuple[float, float] | None = None
    metric_unit: str = ""
    us_unit: str = ""
    us_per: str = ""
    whole: bool = False

    def shown_unit(self, system: str) -> str:
        return (self.us_unit if system == Units.US else self.metric_unit) or self.unit

    def factor(self, system: str) -> float:
        """How many stored units one shown unit is."""
        if system == Units.US and self.us_per:
            return 1.0 / to_base(1.0, self.us_per)
        shown = self.shown_unit(system)
        return 1.0 if shown == self.unit or self.bare(system) else to_base(1.0, shown, self.unit)

    def bare(self, system: str) -> bool:
        """True when only a number may be typed, because the unit is no unit of the unit table."""
        return not self.unit or self.unit == "mL/L"


def _number(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10000 else f"{value:.0f}"


class AmountField(forms.CharField):
    """Cleans to a float in the stored unit, or None."""

    def __init__(self, *, scale: Scale, label: Any, **kwargs: Any) -> None:
        self.scale, self.name, self.system = scale, label, Units.METRIC.value
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(label=label, required=False, max_length=40, widget=widget, **kwargs)
        self._kept: tuple[str, float] | None = None

    def use(self, system: str, stored: float | None) -> str:
        """Show this amount in a system of units; returns the stored value as it is shown."""
        self.system = system
        unit = self.scale.shown_unit(system)
        self.label = f"{self.name} ({unit})" if unit else self.name
        if stored is None:
            return ""
        shown = _number(stored / self.scale.factor(system))
        self._kept = (shown, stored)
        return shown

    def clean(self, value: Any) -> Any:
        typed: str = super().clean(value).strip()
        if not typed:
            return None
        if self._kept is not None and typed == self._kept[0]:
            return self._kept[1]  # what was not changed is not rounded either
        amount = self._parse(typed)
        scale = self.scale
        if not scale.low <= amount <= scale.high or (scale.above and amount == scale.low):
            raise ValidationError(self._refusal(typed))
        if scale.whole and amount != int(amount):
            raise ValidationError(_("“%(typed)s” is not a whole number.") % {"typed": typed})
        return amount

    def _parse(self, typed: str) -> float:
        unit = self.scale.shown_unit(self.system)
        try:
            if self.scale.bare(self.system):
                if not _NUMBER_ONLY.fullmatch(typed):
                    raise NumberTextError(typed, "")
                return parse_value(typed, "pH") * self.scale.factor(self.system)
            return parse_value(typed, unit)
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
        factor, unit = self.scale.factor(self.system), self.scale.shown_unit(self.system)
        words = {
            "typed": typed,
            "low": _number(self.scale.low / factor),
            "high": _number(self.scale.high / factor),
            "unit": unit,
        }
        if self.scale.above:
            sentence = _(
                "“%(typed)s” is not possible here: it must be above %(low)s and at most %(high)s %(unit)s."
            )
        else:
            sentence = _("“%(typed)s” is not possible here: it must be from %(low)s to %(high)s %(unit)s.")
        return (sentence % words).replace(" .", ".")

    def question(self, amount: float | None) -> str | None:
        """A sentence when the amount is allowed and yet unusual, else None."""
        usual = self.scale.usual
        if amount is None or usual is None or usual[0] <= amount <= usual[1]:
            return None
        factor, unit = self.scale.factor(self.system), self.scale.shown_unit(self.system)
        sentence = _(
            "%(name)s: %(value)s %(unit)s is unusual; most are from %(low)s to %(high)s. We kept it."
        )
        words = {
            "name": str(self.name),
            "value": _number(amount / factor),
            "unit": unit,
            "low": _number(usual[0] / factor),
            "high": _number(usual[1] / factor),
        }
        return (sentence % words).replace("  ", " ")
