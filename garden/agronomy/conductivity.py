"""Electrical conductivity of a solution of known ions, and what meters make of it.

Three ways, from rough to good: two rules of thumb on the sum of cations, and the ion-by-ion sum of PHREEQC
with its own correction for ionic strength, at 25 °C. Two things are mended there, both with the potassium
chloride standards of Wu, Koch and Pratt (1991): the program reads potassium chloride low by 0.0855 times the
square root of ionic strength, and away from 25 °C it is out by up to 12 %, so that temperature is taken from
the standards instead. A third is mended with handbook values of magnesium and ammonium sulfate: the program
reads them low in proportion to ionic strength.
"""

import math
from collections.abc import Mapping

from garden.agronomy.errors import AgronomyError, check_range
from garden.agronomy.solution import ION_CHARGES, Solution, equilibrium

_KCL_SLOPE = 0.0855
# Per mol/kg of ionic strength; rounded middle of the 0.5 % solutions of ammonium sulfate (1.07) and magnesium
# sulfate (0.67) and of 1 % magnesium sulfate (1.17) in the CRC Handbook's table at 20 °C.
_SULFATE_SLOPE = 1.0
# Conductivity of potassium chloride over its value at 25 °C, d = T - 25: least squares through the standards
# of 0.01 and 0.1 mol/kg at 0 to 35 °C; the fit is within 0.5 % of each of them.
_KCL_TEMPERATURE = (1.93580e-2, 4.69286e-5, -5.36083e-7)


def temperature_factor(temp_c: float) -> float:
    """Return conductivity at `temp_c` (0 to 40 °C) over that at 25 °C, as potassium chloride shows it.

    Raises OutOfRange. Within 0.5 % for potassium chloride, about 2 % for feed.
    Source: fitted to Wu, Koch and Pratt 1991.
    """
    d = check_range("temp_c", temp_c, 0, 40, "°C") - 25
    a, b, c = _KCL_TEMPERATURE
    return 1 + d * (a + d * (b + d * c))


def solution_ec_ms_cm(solution: Solution) -> float:
    """Return the EC at 25 °C, in mS/cm, of a solution computed at 25 °C.

    Raises AgronomyError when the solution was computed for another temperature. Measured against the
    conductance tables of single salts it is mostly within 2 % and always within 5 % from 0.1 to 6 mS/cm; only
    sulfates of copper, zinc and manganese on their own, which no feed is, are farther off.
    Source: PHREEQC; the correction for potassium and ammonium chloride (in proportion to their shares of
    the cations and anions, Young's rule) restores the standards of Wu, Koch and Pratt 1991; that for the
    sulfates of potassium, ammonium and magnesium, by the same rule, follows the CRC Handbook.
    """
    if solution.temp_c != 25:
        raise AgronomyError(
            f"The solution was computed for {solution.temp_c:g} °C; compute it for 25 °C, then use "
            "temperature_factor."
        )
    parts = solution.parts_mmol_l
    cations, anions = _equivalents(parts, 1) or 1.0, _equivalents(parts, -1) + solution.carbonate_me_l or 1.0
    alkali = parts.get("K", 0.0) + parts.get("NH4", 0.0)
    chlorides = min(1.0, alkali / cations * parts.get("Cl", 0.0) / anions)
    sulfates = min(1.0, (alkali + 2 * parts.get("Mg", 0.0)) / cations * 2 * parts.get("SO4", 0.0) / anions)
    strength = solution.ionic_strength
    read_low = _KCL_SLOPE * chlorides * math.sqrt(strength) + _SULFATE_SLOPE * sulfates * strength
    return solution.conductance_ms_cm * (1 + read_low)


def ions_ec_ms_cm(parts_mmol_l: Mapping[str, float], *, ph: float | None = None, temp_c: float = 25) -> float:
    """Return the EC in mS/cm of a solution of known ions as a meter without compensation shows it.

    `parts_mmol_l`: 0 to 20000 mmol/L by the names of `solution.Part`; `ph` 0 to 14, or None for the pH at
    which the charges add up; `temp_c` 0 to 40 °C. Raises OutOfRange, ChemistryError.
    Source: see solution_ec_ms_cm and temperature_factor.
    """
    return solution_ec_ms_cm(equilibrium(parts_mmol_l, ph=ph)) * temperature_factor(temp_c)


def ec_by_rule_ms_cm(cations_me_l: float) -> tuple[float, float]:
    """Return the EC in mS/cm by two rules of thumb from the sum of cations, 0 to 100 me/L.

    First cations / 10 (read in a public answer of 2001), then 0.095 × cations + 0.19 (after Sonneveld, from
    memory). Each may be out by 15 %. Raises OutOfRange.
    """
    total = check_range("cations_me_l", cations_me_l, 0, 100, "me/L")
    return total / 10, 0.095 * total + 0.19


def cations_me_l(parts_mmol_l: Mapping[str, float]) -> float:
    """Return the sum of the cations in me/L of amounts in mmol/L; other parts are passed over."""
    return _equivalents(parts_mmol_l, 1)


def anions_me_l(parts_mmol_l: Mapping[str, float]) -> float:
    """Return the sum of the anions in me/L of amounts in mmol/L, phosphate as H2PO4, without carbonate."""
    return _equivalents(parts_mmol_l, -1)


def _equivalents(parts_mmol_l: Mapping[str, float], sign: int) -> float:
    charges = ((ION_CHARGES.get("H2PO4" if part == "P" else part, 0), n) for part, n in parts_mmol_l.items())
    return sum(abs(charge) * amount for charge, amount in charges if charge * sign > 0)
