"""How much water to pour through a pot to take the salts out."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.feed import leach_volume_l
from garden.bench import fields
from garden.bench.measures import alike
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Refused, Tool, Values, amount, maybe, word
from garden.reference.loader import load_reference
from garden.wording import Wording


def compute(values: Values, wording: Wording) -> Answer:
    medium = load_reference().media[word(values, "medium")]
    pot, held = amount(values, "container_l"), medium.container_capacity or 0.0
    now, target = amount(values, "root_zone_ec_ms_cm"), amount(values, "target_ec_ms_cm")
    water, plants = amount(values, "water_ec_ms_cm"), maybe(values, "plants") or 1.0
    if target <= water:
        raise Refused(
            _("The water is as strong as that. Aim higher, or rinse with rain or reverse-osmosis water."),
            "target_ec_ms_cm",
        )
    if now <= target:
        headline = _("Nothing to rinse: the salts are not above what you want")
        return Answer(headline, (), (f"{now:g} ≤ {target:g} mS/cm",), sources(medium.source))
    volume = leach_volume_l(pot, held, now, target, water)
    headline = _("Pour %(volume)s of plain water through each pot, in three goes") % {
        "volume": wording.volume(volume)
    }
    facts = [
        (_("Each go"), wording.volume(volume / 3)),
        (_("That is"), _("%s times what the pot holds") % wording.number(volume / (pot * held), 1)),
        (_("Stop when the run-off is below"), wording.ec(target)),
    ]
    if plants > 1:
        facts.insert(0, (_("For all pots"), wording.volume(volume * plants)))
    whole, poured = alike(wording, "L", volume, pot, volume)
    line = _("%(pot)s × %(held)s × ln[(%(now)s − %(water)s) ÷ (%(target)s − %(water)s)] = %(volume)s") % {
        "pot": whole,
        "held": f"{held:g}",
        "now": f"{now:g}",
        "water": f"{water:g}",
        "target": f"{target:g}",
        "volume": poured,
    }
    source = sources(_("Mass balance of a well-mixed pot"), medium.source)
    notes = (
        _("Wait a quarter of an hour between goes, let it drain, and do not leave the pot standing in it."),
        _("Feed again afterwards: rinsing takes the good salts out too."),
    )
    return Answer(headline, tuple(facts), (line,), source, estimate=True, notes=notes)


TOOL = Tool(
    "watering-rinse",
    gettext_lazy("How do I rinse the salts out?"),
    gettext_lazy("Plain water through the pot, from the EC at the roots down to the one you want."),
    "watering",
    (
        fields.CONTAINER,
        fields.MEDIUM,
        Field(
            "root_zone_ec_ms_cm",
            gettext_lazy("EC at the roots or of the run-off"),
            "mS/cm",
            0,
            30,
            above=True,
            example=4,
            prefill="root_or_runoff_ec_ms_cm",
        ),
        Field(
            "target_ec_ms_cm",
            gettext_lazy("EC wanted"),
            "mS/cm",
            0,
            30,
            above=True,
            example=2,
            prefill="root_target_ec_ms_cm",
        ),
        fields.WATER_EC,
        Field(
            "plants",
            gettext_lazy("How many pots"),
            None,
            1,
            100_000,
            example=6,
            optional=True,
            prefill="plants",
        ),
    ),
    compute,
)
