"""Units at the edges: everything inside is stored in one unit per kind of quantity.

Only here is pint used. The unit names are listed, not guessed, because a general parser reads "C" as
coulomb and "pH" as picohenry.
"""

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

from garden.agronomy.errors import NumberTextError, UnitError

if TYPE_CHECKING:
    import pint

System = Literal["metric", "us"]


@dataclass(frozen=True)
class _Kind:
    """One kind of quantity: its stored unit and what may be written for it, as name -> pint unit."""

    base: str
    units: dict[str, str]
    aliases: dict[str, str]


_KINDS = (
    _Kind(
        "°C",
        {"°C": "degC", "°F": "degF", "K": "kelvin"},
        {"C": "°C", "degC": "°C", "F": "°F", "degF": "°F"},
    ),
    _Kind(
        "L",
        {"L": "liter", "mL": "milliliter", "m³": "meter**3", "US gal": "gallon", "fl oz": "US_fluid_ounce"},
        {"l": "L", "ml": "mL", "m3": "m³", "gal": "US gal", "us gal": "US gal", "floz": "fl oz"},
    ),
    _Kind(
        "m",
        {"m": "meter", "cm": "centimeter", "mm": "millimeter", "ft": "foot", "in": "inch"},
        {"′": "ft", "″": "in"},
    ),
    _Kind("m²", {"m²": "meter**2", "ft²": "foot**2"}, {"m2": "m²", "ft2": "ft²", "sq ft": "ft²"}),
    _Kind("g", {"g": "gram", "mg": "milligram", "kg": "kilogram", "oz": "ounce", "lb": "pound"}, {}),
    _Kind("kPa", {"kPa": "kilopascal", "Pa": "pascal", "hPa": "hectopascal", "mbar": "millibar"}, {}),
    _Kind(
        "mS/cm",
        {
            "mS/cm": "millisiemens/centimeter",
            "dS/m": "decisiemens/meter",
            "µS/cm": "microsiemens/centimeter",
        },
        {"uS/cm": "µS/cm"},
    ),
    _Kind("mg/L", {"mg/L": "milligram/liter", "g/L": "gram/liter"}, {"mg/l": "mg/L", "g/l": "g/L"}),
    _Kind("µmol/m²/s", {"µmol/m²/s": "micromole/meter**2/second"}, {"umol/m2/s": "µmol/m²/s"}),
    _Kind("µmol/s", {"µmol/s": "micromole/second"}, {"umol/s": "µmol/s"}),
    _Kind("mol/m²/d", {"mol/m²/d": "mole/meter**2/day"}, {"mol/m2/d": "mol/m²/d"}),
    _Kind("µmol", {"µmol": "micromole", "mmol": "millimole", "mol": "mole"}, {"umol": "µmol"}),
    _Kind("h", {"h": "hour", "min": "minute", "s": "second", "d": "day"}, {}),
    _Kind("W", {"W": "watt", "kW": "kilowatt"}, {}),
    _Kind("%", {"%": "percent"}, {"percent": "%"}),
    _Kind("ppm", {"ppm": "ppm"}, {}),
    _Kind("pH", {"pH": "dimensionless"}, {}),
)


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Building the registry takes a moment; programs that convert nothing never pay for it.
    import pint

    return pint.UnitRegistry()


def _named(kind: _Kind, unit: str) -> str | None:
    written = unit.strip().replace("μ", "µ")  # Greek letter mu to the micro sign
    name = kind.aliases.get(written, written)
    return name if name in kind.units else None


def _find(unit: str) -> tuple[_Kind, str]:
    for kind in _KINDS:
        name = _named(kind, unit)
        if name is not None:
            return kind, name
    raise UnitError(unit, tuple(name for kind in _KINDS for name in kind.units))


def check_unit(unit: str, expected: str | None = None) -> str:
    """Return the stored unit of the kind that `unit` belongs to.

    `expected` is any unit of the wanted kind. Raises UnitError when the unit is unknown, or measures
    something other than `expected`; the error lists the units that may be used.
    """
    if expected is None:
        return _find(unit)[0].base
    wanted = _find(expected)[0]
    if _named(wanted, unit) is None:
        raise UnitError(unit, tuple(wanted.units))
    return wanted.base


def _convert(value: float, from_pint: str, to_pint: str) -> float:
    if from_pint == to_pint:
        return value
    return float(_registry().Quantity(value, from_pint).to(to_pint).magnitude)


def to_base(value: float, unit: str, expected: str | None = None) -> float:
    """Return `value`, given in `unit`, in the stored unit of its kind.

    Stored are °C, L, m, m², g, kPa, mS/cm, mg/L, µmol and so on. `expected` is any unit of the wanted
    kind. Raises UnitError when the unit is unknown or of another kind.
    """
    base = check_unit(unit, expected)
    kind, name = _find(unit)
    return _convert(value, kind.units[name], kind.units[base])


def display(value: float, base_unit: str, system: System) -> tuple[float, str]:
    """Return a stored value as people of a unit system read it, with the unit's label.

    "metric" turns small volumes into mL and short lengths into cm; "us" turns °C into °F, litres into
    US gallons (below a quarter gallon into fluid ounces), metres into feet (below one foot into inches),
    millimetres into inches and grams into ounces. EC, mg/L, µmol, kPa and the rest stay as they are.
    Raises UnitError for an unknown unit.
    """
    kind, name = _find(base_unit)
    label = _display_unit(abs(value), name, system)
    return _convert(value, kind.units[name], kind.units[label]), label


def _display_unit(size: float, unit: str, system: System) -> str:
    if system == "metric":
        small = {"L": (1.0, "mL"), "m": (1.0, "cm")}
        limit, label = small.get(unit, (0.0, unit))
        return label if 0 < size < limit else unit
    if unit == "L":
        return "fl oz" if 0 < size < to_base(0.25, "US gal") else "US gal"
    if unit == "m":
        return "in" if 0 < size < to_base(1.0, "ft") else "ft"
    return {"°C": "°F", "mm": "in", "g": "oz", "m²": "ft²"}.get(unit, unit)


_WRITTEN = re.compile(r"^([+\-−]?[\d.,]+)\s*(.*)$")


def parse_value(written: str, unit: str) -> float:
    """Return the number people wrote, in the stored unit of the kind that `unit` belongs to.

    `unit` is what the number is in when none is written beside it ("21,5" or "72 °F"). A decimal comma
    is read as a decimal point. Raises NumberTextError when the text is not one clear number (as "1,250",
    which may be read two ways) and UnitError when the unit written is of another kind.
    """
    match = _WRITTEN.match(written.replace("\u202f", " ").replace("\u00a0", " ").strip())
    if match is None:
        raise NumberTextError(written, "write digits, for example 6.2 or 6,2")
    number = _parse_number(match[1].replace("−", "-"), written)
    return to_base(number, match[2].strip() or unit, expected=unit)


def _parse_number(digits: str, written: str) -> float:
    if "," in digits and "." in digits:
        decimal = max(",", ".", key=digits.rfind)
        thousands = "." if decimal == "," else ","
        whole, _, rest = digits.partition(decimal)
        if not re.fullmatch(rf"[+\-]?\d{{1,3}}(\{thousands}\d{{3}})+", whole) or not rest.isdigit():
            raise NumberTextError(written, "leave out the thousands separators, for example 1250.5")
        return float(whole.replace(thousands, "") + "." + rest)
    if re.fullmatch(r"[+\-]?[1-9]\d{0,2},\d{3}", digits):
        plain, point = digits.replace(",", ""), digits.replace(",", ".")
        raise NumberTextError(written, f"write {plain} or {point}, whichever is meant")
    try:
        return float(digits.replace(",", "."))
    except ValueError as error:
        raise NumberTextError(written, "write one number, for example 6.2") from error
