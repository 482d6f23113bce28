"""Products as staff read them off a label, one a line, and what is made of them.

A line is "name: label; dose", such as "Bloom A: 4-1-5, Ca 3; 2 mL/L" or "Epsom: magnesium-sulfate; 0.3 g/L".
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.errors import AgronomyError
from garden.agronomy.labels import ELEMENTS, NITROGEN_FORMS, OXIDES, label_content
from garden.agronomy.mix import Product
from garden.agronomy.salts import salt_content_mg_g
from garden.bench.said import said
from garden.bench.tool import Refused
from garden.reference.loader import load_reference
from garden.reference.schema import Salt

LITRES_PER_US_GALLON = 3.785412
HELP = gettext_lazy(
    "One product a line: name: N-P-K or elements in %; dose. Liquids in mL/L are read as grams in 100 mL "
    "unless a density stands there (density 1.2). Pure salts by their name, such as magnesium-sulfate."
)
_KNOWN = {name.casefold(): name for name in (*ELEMENTS, *NITROGEN_FORMS, *OXIDES)}
_NUMBER = r"\d+(?:[.,]\d+)?"
_TRIPLE = re.compile(rf"^\s*({_NUMBER})\s*-\s*({_NUMBER})\s*-\s*({_NUMBER})(?=[\s,;]|$)")
_PART = re.compile(rf"([A-Za-z][A-Za-z0-9-]*)\s+({_NUMBER})\s*%?")
_DOSE = re.compile(rf"^({_NUMBER})\s*(ml|g)\s*(?:/\s*(l|gal))?$", re.IGNORECASE)
_MOST_ROWS = 20


@dataclass(frozen=True)
class Row:
    """One product with its dose per litre (None where none is written)."""

    name: str
    product: Product
    dose_per_l: float | None
    assumed_w_v: bool


def read_rows(written: str, field: str, *, unit: str = "", doses: bool = True) -> list[Row]:
    """Return the products of a text; raises Refused beside `field`, naming the line that cannot be read.

    `doses`: every line must have one. `unit` is taken, "mL" or "g", where no dose tells it.
    """
    lines = [(number, line.strip()) for number, line in enumerate(written.splitlines(), 1) if line.strip()]
    if not lines:
        raise Refused(_("Write at least one product, such as “Bloom A: 4-1-5, Ca 3; 2 mL/L”."), field)
    if len(lines) > _MOST_ROWS:
        raise Refused(_("Write at most %(most)d products.") % {"most": _MOST_ROWS}, field)
    rows: list[Row] = []
    for number, line in lines:
        try:
            row = _row(line, unit or "mL", doses)
        except AgronomyError as error:
            raise Refused(_("Line %(number)d: %(why)s") % {"number": number, "why": error}, field) from error
        if any(other.name == row.name for other in rows):
            raise Refused(
                _("“%(name)s” stands there twice; give each its own name.") % {"name": row.name}, field
            )
        rows.append(row)
    return rows


def _row(line: str, unit: str, doses: bool) -> Row:
    label, _mark, written = line.partition(";")
    name, colon, label = label.partition(":")
    if not colon or not name.strip() or not label.strip():
        raise Refused(_("write “name: label; dose”, such as “Bloom A: 4-1-5, Ca 3; 2 mL/L”."))
    dose = None
    if written.strip():
        dose, unit = _dose(written.strip())
    elif doses:
        raise Refused(_("its dose is missing; write it after a semicolon, such as “; 2 mL/L”."))
    salt = _salt(label)
    if salt is not None:
        return Row(name.strip(), _of_salt(name.strip(), salt), dose, False)
    percents, density = _percents(label)
    liquid = unit == "mL"
    by_volume = liquid and density is None
    content = label_content(
        percents, liquid=liquid, basis="w/v" if by_volume else "w/w", density_g_ml=density if liquid else None
    )
    product = Product(name.strip(), content, "mL" if liquid else "g")
    return Row(name.strip(), product, dose, by_volume)


def _dose(written: str) -> tuple[float, str]:
    match = _DOSE.match(written)
    if match is None:
        raise Refused(_("“%(dose)s” is no dose; write mL/L, g/L, mL/gal or g/gal.") % {"dose": written})
    per_l = _number(match[1]) / (LITRES_PER_US_GALLON if (match[3] or "").lower() == "gal" else 1.0)
    return per_l, "mL" if match[2].lower() == "ml" else "g"


def _number(written: str) -> float:
    return float(written.replace(",", "."))


def _percents(label: str) -> tuple[dict[str, float], float | None]:
    percents: dict[str, float] = {}
    triple = _TRIPLE.match(label)
    if triple:
        percents = dict(zip(("N", "P2O5", "K2O"), map(_number, triple.groups()), strict=True))
        label = label[triple.end() :]
    density = None
    for match in _PART.finditer(label):
        key = match[1].casefold()
        if key == "density":
            density = _number(match[2])
        elif key in _KNOWN:
            name = _KNOWN[key]
            percents[name] = percents.get(name, 0.0) + _number(match[2])
        else:
            raise Refused(
                _("“%(name)s” is no element we know; write N, P2O5, K2O, Ca, MgO, Fe and so on.")
                % {"name": match[1]}
            )
    left = _PART.sub("", label).strip(" ,;%")
    if left or not percents:
        raise Refused(
            _("“%(label)s” cannot be read; write 4-1-5 or Ca 3, or the name of a salt.")
            % {"label": left or label.strip()}
        )
    return percents, density


def _salt(label: str) -> Salt | None:
    wanted = label.strip().casefold()
    for code, salt in load_reference().salts.items():
        if wanted in {code, said(salt.name).casefold()}:
            return salt
    return None


def _of_salt(name: str, salt: Salt) -> Product:
    return Product(name, salt_content(salt), "g", closes=salt.formula is not None)


def salt_content(salt: Salt) -> Mapping[str, float]:
    """What one gram of a salt of the reference data brings, in mg."""
    if salt.formula is None:
        return label_content(salt.percents, liquid=False)
    return salt_content_mg_g(salt.formula, salt.ions, urea_n=salt.urea_n)


def assumed(rows: list[Row]) -> tuple[str, ...]:
    """A caution about liquids whose density is not known."""
    names = [row.name for row in rows if row.assumed_w_v]
    if not names:
        return ()
    return (
        _("Read as grams in 100 mL: %(names)s. Where the label is by weight, add its density.")
        % {"names": ", ".join(names)},
    )
