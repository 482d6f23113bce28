"""What a feed gives, from its labels and doses."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.feed import tds_mg_l
from garden.agronomy.labels import totals
from garden.agronomy.mix import mix_products
from garden.agronomy.nutrients import ratio_findings
from garden.bench.chemistry import (
    EQUILIBRIUM,
    WATER,
    element_rows,
    main_line,
    plain_water,
    solid_cautions,
    solid_names,
)
from garden.bench.label_rows import HELP, LITRES_PER_US_GALLON, Row, assumed, read_rows
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Tool, Values, word
from garden.wording import Wording


def _line(wording: Wording, row: Row) -> str:
    per_l = row.dose_per_l or 0.0
    us = wording.system == "us"
    brought = ", ".join(f"{name} {mg * per_l:.3g}" for name, mg in totals(row.product.content_mg).items())
    return _("%(name)s, %(dose)s %(unit)s: %(brought)s mg/L") % {
        "name": row.name,
        "dose": wording.figure(per_l * LITRES_PER_US_GALLON if us else per_l),
        "unit": f"{row.product.unit}/{'gal' if us else 'L'}",
        "brought": brought,
    }


def _odd_ratios(nutrients: dict[str, float]) -> list[str]:
    """Nutrients that this feed's proportions may hold back."""
    held = {name for finding in ratio_findings(nutrients) for name in finding.hinders}
    return sorted(held)


def compute(values: Values, wording: Wording) -> Answer:
    rows = read_rows(word(values, "products"), "products")
    mixed = mix_products(plain_water(values), [(row.product, row.dose_per_l or 0.0) for row in rows])
    headline = _("EC %(ec)s: %(main)s") % {
        "ec": wording.ec(mixed.ec_ms_cm),
        "main": main_line(wording, mixed.elements_mg_l),
    }
    likely = [risk for risk in mixed.risks if risk.level == "likely"]
    facts = [
        *element_rows(wording, mixed.elements_mg_l),
        (_("A meter in ppm (500 scale)"), wording.number(tds_mg_l(min(mixed.ec_ms_cm, 30), "500"), 0)),
        (_("A meter in ppm (700 scale)"), wording.number(tds_mg_l(min(mixed.ec_ms_cm, 30), "700"), 0)),
        (_("Falls out"), solid_names(likely) or _("nothing to expect")),
    ]
    held = _odd_ratios(dict(mixed.nutrients_mg_l))
    if held:
        facts.append((_("Its proportions may hold back"), ", ".join(held)))
    working = (
        *(_line(wording, row) for row in rows),
        _("EC at %s from the ions; a meter may differ by 5 %%") % wording.temperature(25.0),
        *_assumptions(mixed.assumptions),
    )
    notes = (*assumed(rows), *solid_cautions(likely))
    source = sources(str(EQUILIBRIUM), _("oxides on labels by atomic masses (IUPAC)"))
    return Answer(headline, tuple(facts), working, source, estimate=bool(mixed.assumptions), notes=notes)


def _assumptions(codes: tuple[str, ...]) -> list[str]:
    words = {
        "other-nitrogen-closes-charge-then-ammonium-nitrate": _(
            "nitrogen of no stated form is taken as what the charges want, then as ammonium nitrate"
        ),
        "urea-does-not-conduct": _("urea does not conduct, so it does not show on a meter"),
        "charge-closed-with-sodium": _("what the label leaves open is closed with sodium"),
        "charge-closed-with-chloride": _("what the label leaves open is closed with chloride"),
    }
    return [words[code] for code in codes if code in words]


TOOL = Tool(
    "feed-label",
    gettext_lazy("What does this feed give?"),
    gettext_lazy("From the labels and the doses to mg/L of every element, EC, and what may fall out."),
    "feed",
    (
        Field(
            "products",
            gettext_lazy("Products and doses"),
            rows=4,
            help=HELP,
            example="Grow A: 3-0-4, Ca 3; 2 mL/L\nGrow B: 1-3-5, MgO 1.5, S 1; 2 mL/L",
        ),
        *WATER,
    ),
    compute,
)
