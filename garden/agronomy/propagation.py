"""Raising plants: humidity by method and phase, trays, and how soon seeds come up."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from garden.agronomy.air import saturation_vapour_pressure_kpa
from garden.agronomy.errors import AgronomyError, check_range

Method = Literal["covered-seeds", "open-seeds", "mist", "dome", "grafting"]
Phase = Literal["start", "rooting", "hardening"]


@dataclass(frozen=True)
class HumidityBand:
    """Relative humidity in % to keep around plants in one phase of a method."""

    low_percent: float
    high_percent: float


# Common practice, no source. "start": until emergence, callus or union; "rooting": until roots or leaves
# carry the plant; "hardening": the last days before it leaves.
HUMIDITY: Mapping[tuple[Method, Phase], HumidityBand] = MappingProxyType(
    {
        ("covered-seeds", "start"): HumidityBand(90, 100),
        ("covered-seeds", "rooting"): HumidityBand(70, 85),
        ("covered-seeds", "hardening"): HumidityBand(50, 70),
        ("open-seeds", "start"): HumidityBand(70, 90),
        ("open-seeds", "rooting"): HumidityBand(60, 80),
        ("open-seeds", "hardening"): HumidityBand(50, 70),
        ("mist", "start"): HumidityBand(95, 100),
        ("mist", "rooting"): HumidityBand(80, 90),
        ("mist", "hardening"): HumidityBand(60, 70),
        ("dome", "start"): HumidityBand(90, 100),
        ("dome", "rooting"): HumidityBand(80, 90),
        ("dome", "hardening"): HumidityBand(60, 75),
        ("grafting", "start"): HumidityBand(95, 100),
        ("grafting", "rooting"): HumidityBand(85, 95),
        ("grafting", "hardening"): HumidityBand(65, 80),
    }
)


def propagation_humidity(method: Method, phase: Phase) -> HumidityBand:
    """Return the humidity to keep in a phase of a method; raises AgronomyError for an unknown pair.

    Common practice, no source.
    """
    if (method, phase) not in HUMIDITY:
        known = ", ".join(f"{one} {other}" for one, other in HUMIDITY)
        raise AgronomyError(f"method and phase are “{method} {phase}”; allowed are {known}.")
    return HUMIDITY[method, phase]


def propagation_vpd_kpa(method: Method, phase: Phase, temp_c: float) -> tuple[float, float]:
    """Return the lowest and highest deficit of the air, in kPa, that belong to that humidity.

    `temp_c` 5 to 40 °C; raises OutOfRange and AgronomyError. Source: definition of the deficit.
    """
    band = propagation_humidity(method, phase)
    saturation = saturation_vapour_pressure_kpa(check_range("temp_c", temp_c, 5, 40, "°C"))
    return saturation * (1 - band.high_percent / 100), saturation * (1 - band.low_percent / 100)


@dataclass(frozen=True)
class Tray:
    """Plug tray: how many cells, what one holds, and how many stand on a square foot."""

    cells: int
    cell_cm3: float
    cells_ft2: float


# Ontario government, vegetable transplants in plug trays, Table 1 (read).
TRAYS: Mapping[int, Tray] = MappingProxyType(
    {
        cells: Tray(cells, volume, density)
        for cells, volume, density in (
            (50, 66, 31), (72, 43, 47), (128, 23, 78), (200, 11, 122), (288, 7, 175),
        )
    }
)  # fmt: skip


def tray_mix_l(cells: int, trays: int = 1) -> float:
    """Return the litres of mix that fill `trays` (1 to 10000) of `cells` cells each.

    `cells` is a key of TRAYS; raises AgronomyError for another tray, OutOfRange for the number of trays.
    Source: Ontario government, vegetable transplants in plug trays, Table 1.
    """
    if cells not in TRAYS:
        raise AgronomyError(f"cells is {cells}; allowed are {', '.join(str(known) for known in TRAYS)}.")
    return check_range("trays", trays, 1, 10_000, "trays") * cells * TRAYS[cells].cell_cm3 / 1000


@dataclass(frozen=True)
class Emergence:
    """Seedlings that come up normal, in %, and the days until they do."""

    normal_percent: float
    days: float


# Harrington's table of the University of California, °F: (% normal seedlings, days) (read in copies).
_EMERGENCE: Mapping[str, Mapping[float, tuple[float, float]]] = MappingProxyType(
    {
        "tomato": {59: (98, 14), 68: (98, 8), 77: (97, 6), 86: (83, 6), 95: (46, 9)},
        "pepper": {59: (70, 25), 68: (96, 13), 77: (98, 8), 86: (95, 8), 95: (70, 9)},
        "cucumber": {59: (95, 13), 68: (99, 6), 77: (99, 4)},
    }
)


def emergence(crop: str, soil_temp_c: float) -> Emergence:
    """Return how many seeds come up, and how soon, at the temperature of the mix.

    `crop` is tomato, pepper or cucumber, `soil_temp_c` 15 to 35 °C (cucumber to 25); raises AgronomyError
    for a crop without figures, OutOfRange outside them. Between the table's rows a straight line is taken.
    Source: Harrington's table (read in copies); at 40 °C neither tomato nor pepper comes up.
    """
    if crop not in _EMERGENCE:
        raise AgronomyError(f"crop is “{crop}”, which has no figures; allowed are {', '.join(_EMERGENCE)}.")
    rows = sorted(_EMERGENCE[crop].items())
    temperatures = [(fahrenheit - 32) / 1.8 for fahrenheit, _ in rows]
    coldest, warmest = temperatures[0], temperatures[-1]
    temp = check_range("soil_temp_c", soil_temp_c, coldest - 1e-9, warmest + 1e-9, "°C")
    normal = np.interp(temp, temperatures, [percent for _, (percent, _) in rows])
    days = np.interp(temp, temperatures, [after for _, (_, after) in rows])
    return Emergence(float(normal), float(days))
