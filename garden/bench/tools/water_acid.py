"""How much acid brings water to a pH, and what it adds."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.acid import AcidDose, acid_dose, acid_strength
from garden.agronomy.units import to_base
from garden.agronomy.water import water_from_analysis
from garden.bench import fields
from garden.bench.chemistry import element_name
from garden.bench.measures import alike
from garden.bench.said import mg_l, said, small_volume, small_weight, sources
from garden.bench.tool import Answer, Choices, Field, Tool, Values, amount, maybe, word
from garden.reference.loader import load_reference
from garden.reference.schema import AcidGrade
from garden.wording import Wording


def _acids() -> Choices:
    return tuple((code, said(grade.name)) for code, grade in load_reference().acids.items())


def compute(values: Values, wording: Wording) -> Answer:
    reference = load_reference()
    grade = reference.acids[word(values, "acid")]
    ions = {name: found for name in ("Ca", "Mg", "Na") if (found := maybe(values, name)) is not None}
    alkalinity, volume = amount(values, "alkalinity_mg_l"), amount(values, "volume_l")
    target = amount(values, "target_ph")
    water = water_from_analysis(ions, ph=amount(values, "ph"), alkalinity_mg_l=alkalinity)
    dose = acid_dose(water, acid_strength(grade.acid, grade.percent, grade.density_g_ml), target)
    grams = dose.g_per_m3 * volume / 1000
    shown = small_weight(wording, grams)
    if dose.ml_per_m3 is not None:
        shown = small_volume(wording, dose.ml_per_m3 * volume / 1000)
    headline = _("%(dose)s of %(acid)s for %(volume)s, in small steps") % {
        "dose": shown,
        "acid": said(grade.name),
        "volume": wording.volume(volume),
    }
    facts = [
        (_("First half of it"), _half(wording, dose.ml_per_m3, grams, volume)),
        (_("pH right after"), wording.number(dose.closed_ph, 1)),
        (_("pH once it has aired"), wording.number(dose.aired_ph, 1)),
        (_("Alkalinity left"), mg_l(wording, dose.alkalinity_left_me_l * 50.04)),
    ]
    facts += [
        (_("Adds %s") % element_name(symbol), mg_l(wording, added))
        for symbol, added in dose.adds_mg_l.items()
    ]
    working = (
        _("alkalinity %(mg)s mg/L ÷ 50.04 = %(me)s me/L")
        % {"mg": f"{alkalinity:g}", "me": f"{alkalinity / 50.04:.2f}"},
        _("acid to pH %(ph)s in a closed tank, by equilibrium: %(mmol)s mmol/L, %(me)s me/L")
        % {"ph": f"{target:g}", "mmol": f"{dose.mmol_l:.2f}", "me": f"{dose.equivalents_me_l:.2f}"},
        _strength_line(wording, grade, dose, volume, shown),
        _("aired: in balance with outdoor air of 420 ppm carbon dioxide"),
    )
    cautions = tuple(
        said(reference.acid_cautions[code].text) for code in dose.cautions if code in reference.acid_cautions
    )
    source = sources(_("aqueous equilibrium by the program PHREEQC at 25 °C (77 °F)"), grade.source)
    return Answer(headline, tuple(facts), working, source, cautions, estimate=True)


def _strength_line(wording: Wording, grade: AcidGrade, dose: AcidDose, volume_l: float, shown: str) -> str:
    """From the acid as bought for a round volume to what is measured out for this one."""
    round_l = to_base(100.0, "US gal") if wording.system == "us" else 1000.0
    whole, treated = alike(wording, "L", round_l, round_l, volume_l)
    amounts = [small_weight(wording, dose.g_per_m3 * round_l / 1000)]
    if dose.ml_per_m3 is not None:
        amounts.append(small_volume(wording, dose.ml_per_m3 * round_l / 1000))
    return _(
        "%(percent)s %% by weight%(density)s: %(amount)s for %(whole)s; × %(treated)s ÷ %(whole)s = %(dose)s"
    ) % {
        "percent": f"{grade.percent:g}",
        "density": f", {grade.density_g_ml:g} g/mL" if grade.density_g_ml else "",
        "amount": " = ".join(amounts),
        "whole": whole,
        "treated": treated,
        "dose": shown,
    }


def _half(wording: Wording, ml_per_m3: float | None, grams: float, volume_l: float) -> str:
    if ml_per_m3 is None:
        return small_weight(wording, grams / 2)
    return small_volume(wording, ml_per_m3 * volume_l / 2000)


TOOL = Tool(
    "water-acid",
    gettext_lazy("How much acid?"),
    gettext_lazy("The dose that brings water to a pH, what it adds, and the pH once it has aired."),
    "water",
    (
        Field("ph", gettext_lazy("pH of the water"), None, 4, 10, example=7.8, prefill="water_ph"),
        fields.ALKALINITY,
        Field("target_ph", gettext_lazy("pH wanted"), None, 4, 8.5, example=5.8, prefill="target_ph"),
        Field("acid", gettext_lazy("Acid"), choices=_acids, example="phosphoric-85"),
        Field(
            "volume_l",
            gettext_lazy("Water to treat"),
            "L",
            0,
            1e6,
            above=True,
            example=100,
            us_unit="US gal",
            prefill="reservoir_l",
        ),
        Field("Ca", gettext_lazy("Calcium"), "mg/L", 0, 1000, example=50, optional=True),
        Field("Mg", gettext_lazy("Magnesium"), "mg/L", 0, 1000, example=10, optional=True),
    ),
    compute,
)
