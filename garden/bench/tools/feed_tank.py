"""How to set a tank right: top up, drain, feed, acid, in that order."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from garden.agronomy.acid import Strength, acid_strength
from garden.agronomy.reservoir import Correction, Step, Tank, correct_reservoir
from garden.bench import fields
from garden.bench.chemistry import EQUILIBRIUM, plain_water
from garden.bench.label_rows import HELP, assumed, read_rows
from garden.bench.said import said, small_volume, small_weight, sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, maybe, word
from garden.reference.loader import load_reference
from garden.wording import Wording


def _acids() -> Choices:
    grades = load_reference().acids
    return (("", _("leave the pH")), *((code, said(grade.name)) for code, grade in grades.items()))


def _strength(code: str) -> Strength | None:
    grade = load_reference().acids.get(code)
    return acid_strength(grade.acid, grade.percent, grade.density_g_ml) if grade else None


def _amount(wording: Wording, step: Step) -> str:
    if step.unit == "L":
        return wording.volume(step.amount)
    return small_volume(wording, step.amount) if step.unit == "mL" else small_weight(wording, step.amount)


def _steps(wording: Wording, found: Correction) -> list[tuple[str, str]]:
    words = {
        "top-up": _("Top up with plain water"),
        "drain-and-refill": _("Drain and refill with plain water"),
        "add-concentrate": _("Add the feed"),
        "add-acid": _("Add the acid, half first"),
    }
    return [
        (
            f"{number}. {words[step.code]}",
            _("%(much)s → EC %(ec)s, pH %(ph)s")
            % {
                "much": _amount(wording, step),
                "ec": wording.number(step.ec_ms_cm, 2),
                "ph": wording.number(step.ph, 1),
            },
        )
        for number, step in enumerate(found.steps, 1)
    ]


def _headline(wording: Wording, found: Correction, steps: list[tuple[str, str]]) -> str:
    """The first step, and how many more there are."""
    if not steps:
        return _("Leave it: EC and pH are near enough")
    headline = _("%(first)s: %(much)s") % {
        "first": steps[0][0].partition(" ")[2],
        "much": _amount(wording, found.steps[0]),
    }
    if len(steps) > 1:
        more = len(steps) - 1
        headline += " " + ngettext("(then %d more step)", "(then %d more steps)", more) % more
    return headline


def _notes(found: Correction) -> tuple[str, ...]:
    words = {
        "ph-is-below-target": _("The pH ends below what you want; acid cannot raise it."),
        "check-after-airing": _("Measure the pH again after some hours with air: it climbs."),
        "water-stronger-than-target": _(
            "The water is as strong as the EC you want: it cannot thin the tank."
        ),
    }
    return tuple(words[note] for note in found.notes if note in words)


def _cautions(found: Correction) -> tuple[str, ...]:
    cautions: list[str] = []
    if found.acid is not None:
        known = load_reference().acid_cautions
        cautions += [said(known[code].text) for code in found.acid.cautions if code in known]
    cautions.append(_("Unplug pumps and heaters before hands go into the water."))
    return tuple(cautions)


def compute(values: Values, wording: Wording) -> Answer:
    full = amount(values, "tank_l")
    left = maybe(values, "volume_l") or full
    if left > full:
        raise Refused(_("More is in the tank than it holds. Check the two volumes."), "volume_l")
    rows = read_rows(word(values, "products"), "products", doses=False)
    if len(rows) > 1:
        raise Refused(_("Name one feed here; of a two-part feed write both halves as one label."), "products")
    acid = word(values, "acid")
    found = correct_reservoir(
        Tank(left, full, amount(values, "ec_ms_cm"), amount(values, "ph")),
        plain_water(values),
        rows[0].product,
        target_ec_ms_cm=amount(values, "target_ec_ms_cm"),
        target_ph=amount(values, "target_ph"),
        strength=_strength(acid),
    )
    steps = _steps(wording, found)
    notes = (*assumed(rows), *_notes(found))
    facts = (
        *steps,
        (
            _("It ends at"),
            _("EC %(ec)s, pH %(ph)s")
            % {"ec": wording.number(found.ec_ms_cm, 2), "ph": wording.number(found.ph, 1)},
        ),
    )
    working = (
        _("the tank is taken as this feed, thinned or thickened to its EC, and aired"),
        _("each step mixes amounts; EC and pH after it come from the chemistry"),
        _("aims within 3 % of the EC and 0.05 of the pH; a real tank may differ by 5 %"),
    )
    return Answer(
        _headline(wording, found, steps),
        facts,
        working,
        sources(str(EQUILIBRIUM)),
        _cautions(found),
        estimate=True,
        notes=notes,
    )


TOOL = Tool(
    "feed-tank",
    gettext_lazy("How do I set this tank right?"),
    gettext_lazy("From what the meters show to the EC and pH you want: top up, drain, feed, acid."),
    "feed",
    (
        Field("ec_ms_cm", gettext_lazy("EC now"), "mS/cm", 0.05, 10, example=1.2, prefill="feed_ec_ms_cm"),
        Field("ph", gettext_lazy("pH now"), None, 4, 9, example=6.8, prefill="feed_ph"),
        Field(
            "target_ec_ms_cm",
            gettext_lazy("EC wanted"),
            "mS/cm",
            0.1,
            6,
            example=1.8,
            prefill="target_ec_ms_cm",
        ),
        Field("target_ph", gettext_lazy("pH wanted"), None, 4.5, 7.5, example=5.8, prefill="target_ph"),
        fields.TANK,
        Field(
            "volume_l",
            gettext_lazy("In it now, if not full"),
            "L",
            0,
            1e6,
            above=True,
            example=30,
            optional=True,
            us_unit="US gal",
        ),
        Field(
            "products",
            gettext_lazy("The feed"),
            rows=2,
            help=HELP,
            example="Feed: 4-1-5, Ca 3, Mg 0.8; 2 mL/L",
        ),
        Field("acid", gettext_lazy("Acid"), choices=_acids, example="phosphoric-85", optional=True),
        Field(
            "alkalinity_mg_l",
            gettext_lazy("Alkalinity of the water as CaCO3"),
            "mg/L",
            0,
            2000,
            example=80,
            optional=True,
            prefill="water_alkalinity_mg_l",
        ),
    ),
    compute,
)
