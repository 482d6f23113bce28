"""Can the roots breathe in this water?"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.air import STANDARD_PRESSURE_KPA, pressure_at_altitude_kpa
from garden.agronomy.watering import ENOUGH_OXYGEN_MG_L, HARMFUL_OXYGEN_MG_L, WARM_ROOTS_C, root_oxygen
from garden.bench.measures import degrees
from garden.bench.said import mg_l, sources
from garden.bench.tool import Answer, Field, Tool, Values, amount, maybe
from garden.wording import Wording


def compute(values: Values, wording: Wording) -> Answer:
    temp, measured = amount(values, "water_temp_c"), maybe(values, "dissolved_mg_l")
    altitude = maybe(values, "altitude_m")
    pressure = STANDARD_PRESSURE_KPA if altitude is None else pressure_at_altitude_kpa(altitude)
    found = root_oxygen(temp, measured, pressure)
    held = found.saturation_mg_l if measured is None else measured
    if measured is None:
        headline = _("This water can hold at most %s of oxygen; measure what it holds") % mg_l(wording, held)
    else:
        words = {
            "harmful": _("No: %s harms roots. Bring air in today"),
            "low": _("Barely: %s. More air or cooler water is wanted"),
            "enough": _("Yes: %s is enough"),
        }
        headline = words[found.verdict] % mg_l(wording, held)
    facts = [
        (_("Most this water can hold"), mg_l(wording, found.saturation_mg_l)),
        (_("Keep above"), mg_l(wording, ENOUGH_OXYGEN_MG_L)),
        (_("Harmful below"), mg_l(wording, HARMFUL_OXYGEN_MG_L)),
    ]
    if measured is not None:
        facts.insert(1, (_("Full to"), wording.percent(min(found.saturated_share, 9.99))))
    cautions = (
        _("Unplug pumps and heaters before hands go into the water; keep plugs above the water line."),
    )
    warm_c = degrees(wording, WARM_ROOTS_C)
    warm = _("Above %s root rot of warm water takes over. Shade or cool the tank.") % warm_c
    working = (
        _("saturation at %(temp)s and %(pressure)s kPa: %(best)s mg/L")
        % {
            "temp": degrees(wording, temp),
            "pressure": f"{pressure:.1f}",
            "best": f"{found.saturation_mg_l:.2f}",
        },
        _("3 and 5 mg/L as limits are quoted from memory; warm above %s") % warm_c,
    )
    source = sources("benson-krause", "gold-stanghellini-1985")
    return Answer(
        headline,
        tuple(facts),
        working,
        source,
        cautions,
        estimate=measured is None,
        notes=(warm,) if found.warm else (),
    )


TOOL = Tool(
    "watering-oxygen",
    gettext_lazy("Is there enough oxygen at the roots?"),
    gettext_lazy("What the water can hold at its temperature, and whether what it holds will do."),
    "watering",
    (
        Field(
            "water_temp_c",
            gettext_lazy("Temperature of the water"),
            "°C",
            0,
            40,
            example=24,
            us_unit="°F",
            prefill="root_zone_temp_c",
        ),
        Field(
            "dissolved_mg_l",
            gettext_lazy("Oxygen measured"),
            "mg/L",
            0,
            40,
            example=4.5,
            optional=True,
            prefill="dissolved_oxygen_mg_l",
        ),
        Field(
            "altitude_m",
            gettext_lazy("Height above the sea"),
            "m",
            -400,
            5000,
            example=300,
            optional=True,
            us_unit="ft",
        ),
    ),
    compute,
)
