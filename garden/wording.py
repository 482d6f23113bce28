"""Numbers as a grower reads them: in their units, rounded to what can be measured, the unit in words."""

from dataclasses import dataclass
from typing import Literal

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from garden.agronomy.units import display


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

    def volume(self, litres: float) -> str:
        value, unit = display(litres, "L", self.system)
        if unit == "mL":
            value = round(value / 10) * 10 if value >= 100 else round(value)
        said = self.significant(value)
        n = _count(said)
        words = {
            "L": ngettext("%s litre", "%s litres", n),
            "mL": ngettext("%s millilitre", "%s millilitres", n),
            "US gal": ngettext("%s US gallon", "%s US gallons", n),
            "fl oz": ngettext("%s US fluid ounce", "%s US fluid ounces", n),
        }
        return words[unit] % said

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
        value, unit = display(grams, "g", self.system)
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
        return _("%s µmol/m²/s") % self.number(round(umol_m2_s, -1), 0)

    def percent(self, share: float) -> str:
        """A share of 1 as per cent, to the nearest 5; near nothing and near all to the nearest 1."""
        nearest = round(share * 20) * 5
        if nearest < 5 and share > 0:
            nearest = max(1, round(share * 100))
        elif nearest == 100 and share < 1:
            nearest = min(99, round(share * 100))
        return _("%s\N{NO-BREAK SPACE}%%") % self.number(nearest, 0)

    def hours(self, hours: float) -> str:
        said = self.significant(round(hours * 2) / 2)
        return ngettext("%s hour", "%s hours", _count(said)) % said

    def days(self, days: float) -> str:
        whole = max(1, int(days))
        return ngettext("%(n)s day", "%(n)s days", whole) % {"n": whole}

    def every(self, days: float) -> str:
        """How often: "every day", "every 3 days"."""
        times = round(1 / days)
        if times > 1:
            return _("%(n)s times a day") % {"n": times}
        whole = max(1, int(days))
        return ngettext("every day", "every %(n)s days", whole) % {"n": whole}

    def reading(self, value: float, unit: str, decimals: int) -> tuple[float, str, str]:
        """A reading in the grower's units: its value, the text, and the unit's sign."""
        shown, sign = display(value, unit, self.system) if unit == "°C" else (value, unit)
        return shown, self.number(shown, decimals), sign


def _count(said: str) -> int:
    """Which plural a number as said takes: only a bare "1" is one."""
    return 1 if said == "1" else 2
