"""Amounts of the bench in the units of the reader: what an answer says, and the signs of its working.

A working that shows other units than its answer cannot be followed. So whoever writes one takes amounts from
here, and of one line all in one unit.
"""

import math

from django.utils.translation import gettext as _

from garden.agronomy.climate import M3_H_PER_CFM
from garden.wording import Wording

# Exact by definition of the foot, the inch and the ounce.
FT2_PER_M2 = 1 / 0.3048**2
FT3_PER_M3 = 1 / 0.3048**3
OZ_1000_FT3_PER_G_M3 = 1000 / FT3_PER_M3 / 28.349523125


def span(wording: Wording, low: float, high: float, decimals: int, unit: str = "") -> str:
    """ "0.8 to 1.2 kPa"."""
    words = _("%(low)s to %(high)s") % {
        "low": wording.number(low, decimals),
        "high": wording.number(high, decimals),
    }
    return f"{words} {unit}".rstrip()


def alike(wording: Wording, unit: str, like: float, *amounts: float) -> tuple[str, ...]:
    """Amounts of a working in the one unit in which the amount `like` is said: "3 L", "0.6 L".

    `unit` is the stored one: L, m², g. Not for temperatures, whose scales start elsewhere.
    """
    return tuple(wording.measure(amount, unit, like if like > 0 else 1.0) for amount in amounts)


def degrees(wording: Wording, temp_c: float) -> str:
    """A temperature to a tenth of a degree."""
    shown, label = wording.reading(temp_c, "°C", 1)[1:]
    return f"{shown} {label}"


def difference(wording: Wording, kelvin: float) -> str:
    """A difference of two temperatures."""
    us = wording.system == "us"
    return f"{wording.number(kelvin * (1.8 if us else 1), 1)} {'°F' if us else '°C'}"


def length_span(wording: Wording, low_m: float, high_m: float) -> str:
    """Two lengths in one unit: "11 to 24 cm"."""
    unit, size = _length_unit(wording, high_m)
    return span(wording, low_m / size, high_m / size, 1 if high_m >= 2.0 else 0, unit)


def lengths(wording: Wording, longest_m: float, *metres: float) -> tuple[str, ...]:
    """Lengths of a working, in the unit in which `length_span` says the longest."""
    unit, size = _length_unit(wording, longest_m)
    return tuple(f"{wording.figure(each / size)} {unit}" for each in metres)


def _length_unit(wording: Wording, longest_m: float) -> tuple[str, float]:
    us = wording.system == "us"
    if longest_m >= 2.0:
        return ("ft", 0.3048) if us else ("m", 1.0)
    return ("in", 0.0254) if us else ("cm", 0.01)


def airflow(wording: Wording, m3_h: float, *, at_least: bool = False) -> str:
    """An air flow in m³/h, or in cubic feet a minute for US units; `at_least` rounds up, as one buys."""
    us = wording.system == "us"
    value = m3_h / M3_H_PER_CFM if us else m3_h
    step = 10 if value >= 200 else 1
    steps = math.ceil(value / step - 1e-9) if at_least else round(value / step)
    return (_("%s CFM") if us else _("%s m³/h")) % wording.number(steps * step, 0)


def room_volume(wording: Wording, m3: float) -> str:
    """The volume of a room, as the sign of a working: "14.4 m³", "509 ft³"."""
    us = wording.system == "us"
    return f"{wording.figure(m3 * FT3_PER_M3 if us else m3)} {'ft³' if us else 'm³'}"


def gas_volume(wording: Wording, litres: float) -> str:
    """The volume of a gas: "8.35 L", or cubic feet, in which US flow meters are marked."""
    return room_volume(wording, litres / 1000) if wording.system == "us" else f"{wording.figure(litres)} L"


def vapour(wording: Wording, g_m3: float) -> str:
    """Water in air: "11.0 g/m³", or ounces in 1000 cubic feet, which is nearly the same number."""
    if wording.system == "us":
        return _("%s oz in 1000 ft³") % wording.number(g_m3 * OZ_1000_FT3_PER_G_M3, 1)
    return _("%s g/m³") % wording.number(g_m3, 1)
