"""Numbers as a grower reads them: in their units, rounded to what can be measured, the unit in words."""

import math
from dataclasses import dataclass
from typing import Literal

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from garden.agronomy.units import display

# Exact by definition of the US customary units.
FL_OZ_PER_GALLON = 128
OZ_PER_POUND = 16
KITCHEN_SCALE_G = 5000  # what a kitchen scale weighs; heavier is said in kilograms


@dataclass(frozen=True)
class Mix:
    """Two liquids that make a round whole, rounded so that the parts said add up to the whole said."""

    whole: str
    first: str
    second: str
    whole_sign: str
    """The whole for a working: in the unit of its parts, as a sign."""
    second_share: float
    """Share (0 to 1) of the second liquid, exactly as said."""


@dataclass(frozen=True)
class Wording:
    """Says amounts in one unit system ("metric" or "us"), in the active language."""

    units: str = "metric"

    @property
    def system(self) -> Literal["metric", "us"]:
        return "us" if self.units == "us" else "metric"

    def number(self, value: float, decimals: int) -> str:
        """A number with so many decimals, in the language's own signs."""
        # Django cuts digits off instead of rounding; + 0.0 makes a negative zero a plain one.
        said = formats.number_format(round(value, decimals) + 0.0, decimal_pos=decimals, use_l10n=True)
        return said.replace("-", "\N{MINUS SIGN}")

    def significant(self, value: float) -> str:
        """A number rounded to what a kitchen measure can show: two or three figures."""
        size = abs(value)
        decimals = 2 if size < 1 else 1 if size < 20 else 0
        rounded = round(value, decimals)
        while decimals and round(rounded, decimals - 1) == rounded:
            decimals -= 1
        return self.number(rounded, decimals)

    def figure(self, value: float) -> str:
        """A number of a working: three figures, so that it can be followed, without idle zeros."""
        if value == 0:
            return self.number(0, 0)
        decimals = max(0, 2 - math.floor(math.log10(abs(value))))
        while decimals and round(value, decimals) == round(value, decimals - 1):
            decimals -= 1
        return self.number(value, decimals)

    def measure(self, amount: float, base_unit: str, like: float) -> str:
        """An amount of a working, in the unit in which the amount `like` (above 0) is said: "1.65 L"."""
        said, unit = self._display(like, base_unit)
        return f"{self.figure(amount * said / like)} {unit}"

    def volume(self, litres: float) -> str:
        value, unit = self._display(litres, "L")
        if unit == "mL":
            value = round(value / 10) * 10 if value >= 100 else round(value)
        return self._liquid(value, unit)

    def mix(self, second_share: float) -> Mix:
        """Two liquids of which the second makes up a share between 0 and 1; there is always some of each.

        The whole is what people mix in: 10 litres, 5 US gallons, or 1 US gallon where a part is small.
        """
        if self.system == "metric":
            steps, unit, per_step, whole = 100, "L", 0.1, self._liquid(10, "L")
        elif 0.1 <= second_share <= 0.9:
            steps, unit, per_step, whole = 50, "US gal", 0.1, self._liquid(5, "US gal")
        else:
            steps, unit, per_step, whole = FL_OZ_PER_GALLON, "fl oz", 1.0, self._liquid(1, "US gal")
        second = min(max(round(second_share * steps), 1), steps - 1)
        return Mix(
            whole=whole,
            first=self._liquid((steps - second) * per_step, unit),
            second=self._liquid(second * per_step, unit),
            whole_sign=f"{self.figure(steps * per_step)} {unit}",
            second_share=second / steps,
        )

    def _liquid(self, value: float, unit: str) -> str:
        if unit == "L" and 0 < value < 1:
            value, unit = value * 1000, "mL"
        said = self.significant(value)
        n = _count(said)
        words = {
            "L": ngettext("%s litre", "%s litres", n),
            "mL": ngettext("%s millilitre", "%s millilitres", n),
            "US gal": ngettext("%s US gallon", "%s US gallons", n),
            "fl oz": ngettext("%s US fluid ounce", "%s US fluid ounces", n),
        }
        return words[unit] % said

    def _display(self, amount: float, base_unit: str) -> tuple[float, str]:
        """An amount in the unit people measure it with: a jug has no third of a gallon."""
        said, unit = display(amount, base_unit, self.system)
        if unit == "US gal" and 0 < said < 0.5:
            return said * FL_OZ_PER_GALLON, "fl oz"
        if unit == "oz" and said >= OZ_PER_POUND:
            return said / OZ_PER_POUND, "lb"
        if unit == "g" and said >= KITCHEN_SCALE_G:
            return said / 1000, "kg"
        return said, unit

    def temperature(self, low_c: float, high_c: float | None = None) -> str:
        low, unit = display(low_c, "°C", self.system)
        if high_c is None:
            return f"{self.number(low, 0)} {unit}"
        high, _unit = display(high_c, "°C", self.system)
        return _("%(low)s to %(high)s") % {
            "low": self.number(low, 0),
            "high": f"{self.number(high, 0)} {unit}",
        }

    def length(self, metres: float) -> str:
        value, unit = display(metres, "m", self.system)
        said = self.number(value, 0) if unit in ("cm", "in") else self.significant(value)
        n = _count(said)
        words = {
            "m": ngettext("%s metre", "%s metres", n),
            "cm": ngettext("%s centimetre", "%s centimetres", n),
            "ft": ngettext("%s foot", "%s feet", n),
            "in": ngettext("%s inch", "%s inches", n),
        }
        return words[unit] % said

    def size(self, sides_m: list[float]) -> str:
        """Length, width and height in one unit: "1.5 × 0.9 × 1.9 m"."""
        unit = "ft" if self.units == "us" else "m"
        factor = display(1.0, "m", "us")[0] if self.units == "us" else 1.0
        return " × ".join(self.significant(side * factor) for side in sides_m) + f" {unit}"

    def weight(self, grams: float) -> str:
        value, unit = self._display(grams, "g")
        tens = -1 if value >= 100 else 0
        said = self.number(round(value, tens), 0) if unit == "g" else self.significant(value)
        n = _count(said)
        words = {
            "g": ngettext("%s gram", "%s grams", n),
            "oz": ngettext("%s ounce", "%s ounces", n),
            "lb": ngettext("%s pound", "%s pounds", n),
            "kg": ngettext("%s kilogram", "%s kilograms", n),
        }
        return words[unit] % said

    def ec(self, ms_cm: float) -> str:
        return _("%s mS/cm") % self.number(ms_cm, 1)

    def light(self, umol_m2_s: float) -> str:
        return _("%s µmol/m²/s") % self.number(umol_m2_s, 0)

    def percent(self, share: float, nearest: int = 5) -> str:
        """A share of 1 as per cent, to the nearest 5 or so; near nothing and near all to the nearest 1."""
        said = round(share * 100 / nearest) * nearest
        if said < nearest and share > 0:
            said = max(1, round(share * 100))
        elif said == 100 and share < 1:
            said = min(99, round(share * 100))
        return _("%s\N{NO-BREAK SPACE}%%") % self.number(said, 0)

    def about(self, said: str, estimate: bool) -> str:
        """An amount as said, marked when it is an estimate."""
        return _("about %s") % said if estimate else said

    def hours(self, hours: float) -> str:
        said = self.significant(round(hours * 2) / 2)
        return ngettext("%s hour", "%s hours", _count(said)) % said

    def every(self, days: float) -> str:
        """How often, to the nearest half: "every day", "every 3 days", "every 4 to 5 days"."""
        if days < 1 and round(2 / days) > 2:
            halves = round(2 / days)
            if halves % 2:
                return _("%(low)s to %(high)s times a day") % {"low": halves // 2, "high": halves // 2 + 1}
            return _("%(n)s times a day") % {"n": halves // 2}
        halves = max(2, round(days * 2))
        if halves % 2:
            return _("every %(low)s to %(high)s days") % {"low": halves // 2, "high": halves // 2 + 1}
        return ngettext("every day", "every %(n)s days", halves // 2) % {"n": halves // 2}

    def reading(self, value: float, unit: str, decimals: int) -> tuple[float, str, str]:
        """A reading in the grower's units: its value, the text, and the unit's sign."""
        shown, sign = display(value, unit, self.system) if unit == "°C" else (value, unit)
        return shown, self.number(shown, decimals), sign


def _count(said: str) -> int:
    """Which plural a number as said takes: only a bare "1" is one."""
    return 1 if said == "1" else 2
