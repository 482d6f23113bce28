"""What a pure substance is made of, from its formula and the atomic masses of the library periodictable."""

import re
from collections.abc import Mapping
from functools import cache

from garden.agronomy.errors import AgronomyError, check_above, check_range
from garden.agronomy.solution import ION_CHARGES

_GROUPS = re.compile(r"[A-Za-z0-9()·*+.]+")


class FormulaError(AgronomyError):
    """A chemical formula that cannot be read; names it and shows how to write one."""

    def __init__(self, formula: str) -> None:
        super().__init__(
            f"“{formula}” is not a chemical formula this program can read; write it like Ca(NO3)2·4H2O."
        )


@cache
def _atoms(formula: str) -> tuple[tuple[str, float, float], ...]:
    """Element symbol, atoms in one unit of the formula, atomic mass."""
    from periodictable import formula as read

    written = formula.strip()
    if not _GROUPS.fullmatch(written):
        raise FormulaError(formula)
    found: dict[str, tuple[float, float]] = {}
    for group in re.split(r"[·*+]", written):
        # A number before a group ("4H2O") counts the whole group.
        number, rest = re.fullmatch(r"(\d*)(.*)", group).groups()  # type: ignore[union-attr]
        try:
            atoms = read(rest).atoms if rest else {}
        except Exception as error:  # the parser raises kinds of its own
            raise FormulaError(formula) from error
        if not atoms:
            raise FormulaError(formula)
        for atom, count in atoms.items():
            had = found.get(str(atom), (0.0, 0.0))[0]
            found[str(atom)] = (had + count * int(number or 1), float(atom.mass))
    return tuple((symbol, count, mass) for symbol, (count, mass) in found.items())


def molar_mass_g(formula: str) -> float:
    """Return the molar mass, in g/mol, of a formula such as "Ca(NO3)2·4H2O" (·, * or + before the water).

    Raises FormulaError. Source: atomic masses of periodictable (IUPAC).
    """
    return sum(count * mass for _, count, mass in _atoms(formula))


def element_share(formula: str) -> dict[str, float]:
    """Return the mass share, 0 to 1, of each element of a formula, by symbol; raises FormulaError."""
    total = molar_mass_g(formula)
    return {symbol: count * mass / total for symbol, count, mass in _atoms(formula)}


def element_in_oxide(oxide: str, element: str) -> float:
    """Return what share of an oxide or ion, such as "P2O5" or "NO3", is the element: 0.4364 for P in P2O5.

    Raises FormulaError, or AgronomyError when the element is not in it.
    """
    shares = element_share(oxide)
    if element not in shares:
        raise AgronomyError(f"{oxide} holds no {element}; it holds {', '.join(shares)}.")
    return shares[element]


def salt_content_mg_g(
    formula: str, ions: Mapping[str, float], *, purity_percent: float = 100.0, urea_n: float = 0.0
) -> dict[str, float]:
    """Return what one gram of a salt brings, in mg, by nutrient, with nitrogen told apart by form.

    `formula`: of the salt with its water; `ions`: how many of each ion one unit of the formula gives, by the
    names of `solution.ION_CHARGES` (phosphate as "H2PO4"); `urea_n`: nitrogen atoms bound as urea;
    `purity_percent`: above 0 to 100. Keys are element symbols and "N-NO3", "N-NH4", "N-urea".
    Raises FormulaError, OutOfRange, or AgronomyError for an unknown ion or more nitrogen than there is.
    """
    unknown = [ion for ion in ions if ion not in ION_CHARGES]
    if unknown:
        raise AgronomyError(f"The ion “{unknown[0]}” is not known; known are {', '.join(ION_CHARGES)}.")
    scale = check_above("purity_percent", purity_percent, 0, 100, "%") * 10
    content = {
        symbol: share * scale
        for symbol, share in element_share(formula).items()
        if symbol not in ("H", "O", "C", "N")
    }
    nitrogen_atoms = next((count for symbol, count, _ in _atoms(formula) if symbol == "N"), 0.0)
    forms = {"N-NO3": ions.get("NO3", 0.0), "N-NH4": ions.get("NH4", 0.0), "N-urea": urea_n}
    if sum(forms.values()) > nitrogen_atoms + 1e-9:
        raise AgronomyError(
            f"{formula} holds {nitrogen_atoms:g} atoms of N, but {sum(forms.values()):g} were given."
        )
    if nitrogen_atoms:
        per_atom = element_share(formula)["N"] * scale / nitrogen_atoms
        content |= {form: count * per_atom for form, count in forms.items() if count}
    return content


def ions_charge(ions: Mapping[str, float]) -> float:
    """Return the charge that the ions of one unit of a salt add up to: 0 for a salt, below 0 for an acid.

    `ions`: numbers of 0 or more by the names of `solution.ION_CHARGES`; raises OutOfRange.
    """
    return sum(ION_CHARGES[ion] * check_range(ion, count, 0, 100) for ion, count in ions.items())
