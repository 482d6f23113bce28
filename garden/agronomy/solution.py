"""What dissolved matter does together: one doorway to the general solution-chemistry program PHREEQC.

Every answer is the equilibrium of given totals; nothing is reacted step by step, so nitrate and ammonium
stay what they are. Equilibrium constants are those of the database that comes with the library, with three
solids and citric acid added below. Valid for water and feed at 0 to 45 °C up to an ionic strength of about
0.5 mol/kg; beyond it (concentrates) numbers show a tendency only.

Thread safety: the program keeps solutions in one numbered store, so one instance per process is shared and
every use is guarded by a lock; results leave it as plain frozen values.
"""

import math
import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, Literal

from garden.agronomy.errors import AgronomyError, check_range

KG_WATER_PER_L = 0.99705
"""Density of pure water at 25 °C; the room that a few grams of salt per litre take is left out (< 0.4 %)."""

ION_CHARGES: Mapping[str, int] = {
    "Ca": 2, "Mg": 2, "Na": 1, "K": 1, "NH4": 1, "Fe": 2, "Mn": 2, "Zn": 2, "Cu": 2,
    "NO3": -1, "Cl": -1, "SO4": -2, "HCO3": -1, "CO3": -2, "H2PO4": -1, "F": -1,
}  # fmt: skip
"""Charge of each ion as it stands in water of pH 5 to 6.5 (phosphate as H2PO4)."""

ION_FORMULAS: Mapping[str, str] = {ion: ion for ion in ION_CHARGES} | {
    "C": "C", "P": "P", "B": "B", "citrate": "C6H5O7",
}  # fmt: skip
"""Chemical formula of everything a solution may hold; C, P and B are the elements whatever their form."""

Part = Literal[
    "Ca", "Mg", "Na", "K", "NH4", "Mn", "Zn", "Cu", "NO3", "Cl", "SO4", "F", "P", "C", "B", "citrate"
]

# Our names of the parts of a solution, and what the program calls their totals. Iron and molybdenum are left
# out: iron comes as a chelate, whose few micromoles neither precipitate nor conduct to speak of.
_MASTER: Mapping[str, str] = {
    "Ca": "Ca", "Mg": "Mg", "Na": "Na", "K": "K", "NH4": "Amm", "Mn": "Mn(2)", "Zn": "Zn", "Cu": "Cu(2)",
    "NO3": "N(5)", "Cl": "Cl", "SO4": "S(6)", "F": "F", "P": "P", "C": "C(4)", "B": "B", "citrate": "Cit",
}  # fmt: skip

# Citric acid: pK 3.128, 4.761, 6.396 at 25 °C and zero ionic strength; calcium and magnesium citrate log K
# 4.87 and 4.89. Solids: brushite log K -18.995, struvite -13.26. All recalled from memory (the values of the
# MINTEQ database; struvite after Ohlinger and others 1998), to be verified.
_ADDED = """
SOLUTION_MASTER_SPECIES
Cit Cit-3 2.0 C6H5O7 189.1
SOLUTION_SPECIES
Cit-3 = Cit-3
 log_k 0
 -dw 0.623e-9
H+ + Cit-3 = HCit-2
 log_k 6.396
 -dw 0.69e-9
2H+ + Cit-3 = H2Cit-
 log_k 11.157
 -dw 0.80e-9
3H+ + Cit-3 = H3Cit
 log_k 14.285
Ca+2 + Cit-3 = CaCit-
 log_k 4.87
Mg+2 + Cit-3 = MgCit-
 log_k 4.89
PHASES
Brushite
CaHPO4:2H2O = Ca+2 + H+ + PO4-3 + 2H2O
 log_k -18.995
Struvite
MgAmmHPO4:6H2O = Mg+2 + AmmH+ + PO4-3 + 6H2O
 log_k -13.26
END
"""

SOLIDS: Mapping[str, str] = {
    "gypsum": "Gypsum",
    "calcium-phosphate": "Brushite",
    "apatite": "Hydroxyapatite",
    "struvite": "Struvite",
    "lime": "Calcite",
}
"""Solids that may fall out, by our code, with the program's name."""

_lock = threading.Lock()
_engine: dict[str, Any] = {}


class ChemistryError(AgronomyError):
    """A composition for which no equilibrium was found; says what was asked and how to go on."""

    def __init__(self, asked: str) -> None:
        super().__init__(
            f"No chemical equilibrium was found for {asked}. Check that the amounts are what was meant, "
            "or that the target can be reached with this acid."
        )


@dataclass(frozen=True)
class Solution:
    """A solution at equilibrium at 25 °C (or the temperature asked for).

    `parts_mmol_l`: totals by part (P and C whatever their form). `conductance_ms_cm`: the program's own
    specific conductance, see `conductivity`. `saturation`: log10 of ion product over solubility product by
    solid, only where all its ions are present. `carbonate_me_l`: charge carried by HCO3 and CO3.
    `charge_me_l`: cations less anions, zero unless the pH was held without a balancing part.
    """

    ph: float
    parts_mmol_l: Mapping[str, float]
    ionic_strength: float
    conductance_ms_cm: float
    carbonate_me_l: float
    charge_me_l: float
    saturation: Mapping[str, float]
    temp_c: float


def equilibrium(
    parts_mmol_l: Mapping[str, float],
    *,
    ph: float | None = None,
    alkalinity_me_l: float | None = None,
    balance: Part | None = None,
    co2_ppm: float | None = None,
    temp_c: float = 25.0,
) -> Solution:
    """Return the equilibrium of the given totals.

    `parts_mmol_l`: amounts of 0 to 20000 mmol/L by the names of `Part`. `ph` 0 to 14: held; None: whatever
    makes the charges add up. `alkalinity_me_l` 0 to 100: given in place of "C" together with `ph`.
    `balance`: the part whose amount is changed until the charges add up at the given `ph`. `co2_ppm` 1 to
    1e6: "C" is whatever air with that much carbon dioxide gives. `temp_c` 0 to 45.
    Raises OutOfRange, and ChemistryError when there is no such solution.
    Source: PHREEQC (Parkhurst and Appelo), through the library phreeqpython.
    """
    for part, amount in parts_mmol_l.items():
        check_range(part, amount, 0, 20_000, "mmol/L")
    temp = check_range("temp_c", temp_c, 0, 45, "°C")
    lines: dict[str, str] = {"temp": f"{temp:.6g}", "units": "mmol/kgw", "pe": "12"}
    lines["pH"] = "7 charge" if ph is None else f"{check_range('ph', ph, 0, 14):.10g}"
    for part, amount in parts_mmol_l.items():
        if amount > 0:
            lines[_MASTER[part]] = f"{amount / KG_WATER_PER_L:.10g}"
    if balance is not None:
        start = max(parts_mmol_l.get(balance, 0.0), 1e-4) / KG_WATER_PER_L
        lines[_MASTER[balance]] = f"{start:.10g} charge"
    if alkalinity_me_l is not None:
        alkalinity = check_range("alkalinity_me_l", alkalinity_me_l, 0, 100, "me/L")
        lines["Alkalinity"] = f"{alkalinity / KG_WATER_PER_L:.10g}"
    if co2_ppm is not None:
        lines["C(4)"] = f"1 CO2(g) {_log10_atmosphere(co2_ppm):.6f}"
    try:
        return _solve(lines, temp)
    except ChemistryError:
        if ph is not None:
            raise
        # With next to nothing that buffers, the program loses its way; bracketing the pH finds it.
        return _solve(lines | {"pH": f"{_bracketed_ph(lines, temp):.10g}"}, temp)


def _bracketed_ph(lines: dict[str, str], temp_c: float) -> float:
    from scipy.optimize import brentq

    def charge(ph: float) -> float:
        return _solve(lines | {"pH": f"{ph:.10g}"}, temp_c).charge_me_l

    try:
        return float(brentq(charge, 0.5, 13.5, xtol=1e-4))
    except ValueError as error:
        raise ChemistryError("amounts whose charges add up at no pH") from error


def _log10_atmosphere(co2_ppm: float) -> float:
    return math.log10(check_range("co2_ppm", co2_ppm, 1, 1e6, "ppm") * 1e-6)


def _program() -> Any:
    if "pp" not in _engine:
        from phreeqpython import PhreeqPython

        program = PhreeqPython()
        program.ip.run_string(_ADDED)
        _engine["pp"] = program
    return _engine["pp"]


def _solve(lines: dict[str, str], temp_c: float) -> Solution:
    return _solved(tuple(lines.items()), temp_c)


# The steps of a correction, and a page that computes as people type, ask for the same state over again.
@lru_cache(maxsize=512)
def _solved(lines: tuple[tuple[str, str], ...], temp_c: float) -> Solution:
    with _lock:
        program = _program()
        try:
            made = program.add_solution(dict(lines))
        except Exception as error:  # the library raises nothing more particular
            raise ChemistryError(", ".join(f"{name} {value}" for name, value in lines)) from error
        try:
            return _read(made, temp_c)
        finally:
            made.forget()


def _read(made: Any, temp_c: float) -> Solution:
    totals = made.elements
    species = made.species_molalities
    carbonate = sum(
        charge * molality
        for name, molality in species.items()
        if (charge := _CARBONATE.get(name)) is not None
    )
    phases = made.phases
    return Solution(
        ph=made.pH,
        parts_mmol_l=MappingProxyType(
            {
                part: totals[master] * 1000 * KG_WATER_PER_L
                for part, master in _MASTER.items()
                if totals.get(master, 0.0) > 1e-9
            }
        ),
        ionic_strength=made.I,
        conductance_ms_cm=made.sc / 1000,
        carbonate_me_l=carbonate * 1000 * KG_WATER_PER_L,
        charge_me_l=sum(_charge(name) * molality for name, molality in species.items())
        * 1000
        * KG_WATER_PER_L,
        saturation=MappingProxyType({code: phases[name] for code, name in SOLIDS.items() if name in phases}),
        temp_c=temp_c,
    )


_CARBONATE: Mapping[str, int] = {
    "HCO3-": 1, "CO3-2": 2, "CaHCO3+": 1, "CaCO3": 2, "MgHCO3+": 1, "MgCO3": 2, "NaHCO3": 1, "NaCO3-": 2,
}  # fmt: skip


@cache
def _charge(species: str) -> int:
    written = _CHARGE.search(species)
    return int(f"{written[1]}{written[2] or 1}") if written else 0


_CHARGE = re.compile(r"([+-])(\d*)$")
