"""How much pure water to blend in."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.water import blend, share_of_pure_water, water_from_analysis
from garden.bench import fields
from garden.bench.said import mg_l, sources
from garden.bench.tool import Answer, Field, Tool, Values, amount, maybe
from garden.wording import Wording


def compute(values: Values, wording: Wording) -> Answer:
    now, wanted = amount(values, "alkalinity_mg_l"), amount(values, "target_mg_l")
    volume = amount(values, "volume_l")
    if now <= wanted:
        headline = _("None: the alkalinity is low enough already")
        return Answer(headline, (), (f"{now:g} ≤ {wanted:g} mg/L",), sources(_("Mass balance")))
    share = share_of_pure_water(now, wanted)
    ions = {name: found for name in ("Na", "Cl") if (found := maybe(values, name)) is not None}
    tap = water_from_analysis(ions, ph=amount(values, "ph"), alkalinity_mg_l=now)
    mixed = blend(tap, water_from_analysis({}, ph=7.0), share)
    headline = _("%(pure)s of rain or reverse-osmosis water with %(tap)s of tap water") % {
        "pure": wording.volume(volume * share),
        "tap": wording.volume(volume * (1 - share)),
    }
    facts = [
        (_("Pure water"), wording.percent(share)),
        (_("Alkalinity then"), mg_l(wording, mixed.alkalinity_mg_l)),
        (_("pH then, about"), wording.number(mixed.ph, 1)),
    ]
    facts += [
        (label, mg_l(wording, ions[name] * (1 - share)))
        for name, label in (("Na", _("Sodium then")), ("Cl", _("Chloride then")))
        if name in ions
    ]
    line = _("(%(now)s − %(wanted)s) ÷ %(now)s = %(share)s pure water") % {
        "now": f"{now:g}",
        "wanted": f"{wanted:g}",
        "share": f"{share:.3f}",
    }
    notes = (_("Pure water holds no calcium: give it with the feed."),)
    source = sources(_("Mass balance; pH of the mixed carbonates by the program PHREEQC"))
    return Answer(headline, tuple(facts), (line,), source, notes=notes)


TOOL = Tool(
    "water-blend",
    gettext_lazy("How much rain or RO water do I blend in?"),
    gettext_lazy("Tap water thinned to the alkalinity you want, and what else becomes of it."),
    "water",
    (
        fields.ALKALINITY,
        Field("target_mg_l", gettext_lazy("Alkalinity wanted"), "mg/L", 1, 2000, example=60),
        Field("ph", gettext_lazy("pH of the tap water"), None, 5, 9.5, example=7.6, prefill="water_ph"),
        Field(
            "volume_l",
            gettext_lazy("To make"),
            "L",
            0,
            1e6,
            above=True,
            example=40,
            us_unit="US gal",
            prefill="reservoir_l",
        ),
        Field(
            "Na",
            gettext_lazy("Sodium"),
            "mg/L",
            0,
            5000,
            example=30,
            optional=True,
            prefill="water_sodium_mg_l",
        ),
        Field(
            "Cl",
            gettext_lazy("Chloride"),
            "mg/L",
            0,
            5000,
            example=45,
            optional=True,
            prefill="water_chloride_mg_l",
        ),
    ),
    compute,
)
