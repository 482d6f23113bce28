"""Will two bottles cloud when they meet?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.mix import concentrates_meet, mix_products
from garden.bench.chemistry import EQUILIBRIUM, WATER, plain_water, solid_cautions, solid_names
from garden.bench.label_rows import HELP, assumed, read_rows
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Tool, Values, word
from garden.wording import Wording


def compute(values: Values, wording: Wording) -> Answer:
    rows = read_rows(word(values, "products"), "products")
    doses = [(row.product, row.dose_per_l or 0.0) for row in rows]
    strong = concentrates_meet(doses)
    thin = mix_products(plain_water(values), doses)
    likely = [risk for risk in strong if risk.level == "likely"]
    in_tank = [risk for risk in thin.risks if risk.level == "likely"]
    if in_tank:
        headline = _("Yes, even in the tank: %s") % solid_names(in_tank)
    elif likely:
        headline = _("Yes, if they meet undiluted: %s. In the tank they stay clear") % solid_names(likely)
    else:
        headline = _("No: nothing is expected to fall out")
    possible = [risk for risk in (*strong, *thin.risks) if risk.level == "possible"]
    facts = (
        (_("Undiluted, likely"), solid_names(likely) or _("nothing")),
        (_("In the tank, likely"), solid_names(in_tank) or _("nothing")),
        (_("Possible"), solid_names({risk.solid: risk for risk in possible}.values()) or _("nothing")),
        (_("EC of the tank"), wording.ec(thin.ec_ms_cm)),
    )
    lines = [
        _("%(where)s, %(name)s: saturation index %(index)s")
        % {"where": where, "name": risk.solid, "index": f"{risk.saturation:.1f}"}
        for where, risks in ((_("undiluted"), strong), (_("in the tank"), thin.risks))
        for risk in risks
    ]
    lines.append(
        _("likely above +0.3, possible from −0.3: common practice; apatite with 6 to spare: judgement")
    )
    lines.append(_("so strong a solution is beyond the chemistry's proper range: it shows which way it goes"))
    notes = (*assumed(rows), *solid_cautions({risk.solid: risk for risk in (*likely, *in_tank)}.values()))
    return Answer(headline, facts, tuple(lines), sources(str(EQUILIBRIUM)), estimate=True, notes=notes)


TOOL = Tool(
    "feed-cloud",
    gettext_lazy("Will A and B cloud?"),
    gettext_lazy("Whether two or more bottles make grit or milk when they touch, or in the tank."),
    "feed",
    (
        Field(
            "products",
            gettext_lazy("Products and doses"),
            rows=3,
            help=HELP,
            example="A: 5-0-3, Ca 5; 2 mL/L\nB: 0-4-6, Mg 1, S 2; 2 mL/L",
        ),
        *WATER,
    ),
    compute,
)
