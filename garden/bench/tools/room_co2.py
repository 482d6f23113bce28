"""Does carbon dioxide make sense here, how much, and what people may breathe."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.co2 import (
    EXPOSURE_LIMITS,
    OUTSIDE_PPM,
    Enrichment,
    co2_fill,
    co2_hold_g_h,
    co2_uptake_g_h,
    enrichment,
    exposure_reached,
)
from garden.bench import fields
from garden.bench.fields import side
from garden.bench.measures import alike, gas_volume, room_volume
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Tool, Values, amount, maybe
from garden.wording import Wording


@dataclass(frozen=True)
class _Room:
    """The room's air."""

    area_m2: float
    volume_m3: float
    changes_per_h: float
    temp_c: float
    now_ppm: float


def _headline(wording: Wording, found: Enrichment) -> str:
    words = {
        "air-first": _("Not yet: the room is starved of air. Bring fresh air in first"),
        "light-first": _("No: at this light plants cannot use it. More light comes first"),
        "seal-first": _("No: it would blow away. Close the room first"),
        "small-gain": _("A small gain only, up to %s ppm"),
        "worth-trying": _("Worth trying, up to %s ppm"),
    }
    headline = words[found.verdict]
    return headline % wording.number(found.target_ppm, 0) if found.target_ppm is not None else headline


def _cautions(wording: Wording) -> tuple[str, ...]:
    limits = _(
        "People: at most %(eight)s ppm over a day's work, %(short)s ppm for a quarter of an hour. "
        "Local law may be stricter."
    ) % {
        "eight": wording.number(EXPOSURE_LIMITS[0].ppm, 0),
        "short": wording.number(EXPOSURE_LIMITS[1].ppm, 0),
    }
    return (
        _(
            "The gas has no smell, gathers low, and can kill in closed rooms. Hang a working alarm at "
            "breathing height, and air the room before you go in."
        ),
        limits,
        _(
            "Cylinders and burners are for trained people: follow the supplier's sheet and local codes. "
            "Never burn anything in a closed room."
        ),
    )


def _source() -> str:
    return sources(
        "osu-co2", _("mass balance and ideal gas"), EXPOSURE_LIMITS[0].source, "common practice, no source"
    )


def _dose(
    values: Values, wording: Wording, room: _Room, target: float
) -> tuple[list[tuple[str, str]], list[str]]:
    """What fills and holds the room at a level, and how that was reckoned."""
    fill = co2_fill(room.volume_m3, min(room.now_ppm, target), target, room.temp_c)
    held = max(target, OUTSIDE_PPM)
    leak = co2_hold_g_h(room.volume_m3, room.changes_per_h, held, temp_c=room.temp_c)
    plants = co2_uptake_g_h(amount(values, "ppfd_umol_m2_s"), room.area_m2)
    facts = [
        (_("Level"), _("%s ppm") % wording.number(target, 0)),
        (_("To fill the room once"), wording.weight(fill.grams)),
        (_("To hold it against leaks, an hour"), wording.weight(leak)),
        (_("A full canopy takes, an hour"), wording.weight(plants)),
    ]
    per_mol, lost, taken = (alike(wording, "g", each, each)[0] for each in (0.87, leak, plants))
    words = {
        "volume": room_volume(wording, room.volume_m3),
        "target": f"{target:.0f}",
        "start": f"{min(room.now_ppm, target):.0f}",
        "gas": gas_volume(wording, fill.litres),
        "weight": alike(wording, "g", fill.grams, fill.grams)[0],
        "changes": f"{room.changes_per_h:g}",
        "held": f"{held:.0f}",
        "leak": lost,
        "per_mol": per_mol,
        "plants": taken,
    }
    working = [
        _("%(volume)s × (%(target)s − %(start)s) ppm = %(gas)s of gas, %(weight)s"),
        _("leaks: %(volume)s × %(changes)s an hour × (%(held)s − 420) ppm = %(leak)s an hour"),
        _("plants: %(per_mol)s dry matter per mol of light (lettuce), two fifths carbon: %(plants)s an hour"),
    ]
    return facts, [line % words for line in working]


def compute(values: Values, wording: Wording) -> Answer:
    area, changes = amount(values, "length_m") * amount(values, "width_m"), amount(values, "changes_per_h")
    ppfd, now = amount(values, "ppfd_umol_m2_s"), maybe(values, "co2_ppm")
    if now is not None and exposure_reached(now):
        line = _("%(now)s ppm is at or above %(limit)s ppm") % {
            "now": f"{now:.0f}",
            "limit": f"{EXPOSURE_LIMITS[0].ppm:.0f}",
        }
        headline = _("Stop: leave the room and air it. This is more than people may breathe")
        return Answer(headline, (), (line,), EXPOSURE_LIMITS[0].source, _cautions(wording))
    found = enrichment(ppfd, changes, now)
    headline = _headline(wording, found)
    if found.target_ppm is None:
        line = _(
            "light %(light)s µmol/m²/s, %(changes)s air changes an hour; limits 200 and 1: common practice"
        ) % {"light": f"{ppfd:.0f}", "changes": f"{changes:g}"}
        return Answer(headline, (), (line,), _source(), _cautions(wording))
    room = _Room(
        area,
        area * amount(values, "height_m"),
        changes,
        amount(values, "air_temp_c"),
        OUTSIDE_PPM if now is None else now,
    )
    target = maybe(values, "target_ppm") or found.target_ppm
    facts, working = _dose(values, wording, room, target)
    notes: tuple[str, ...] = ()
    if target > found.target_ppm:
        notes = (
            _("You ask for more: above %s ppm little is gained here.") % wording.number(found.target_ppm, 0),
        )
    return Answer(
        headline, tuple(facts), tuple(working), _source(), _cautions(wording), estimate=True, notes=notes
    )


TOOL = Tool(
    "room-co2",
    gettext_lazy("How much CO2?"),
    gettext_lazy("Whether it makes sense at this light, the dose, and what people may breathe."),
    "room",
    (
        side("length_m", gettext_lazy("Length"), 3, 100, "length_m"),
        side("width_m", gettext_lazy("Width"), 2, 100, "width_m"),
        side("height_m", gettext_lazy("Height"), 2.4, 20, "height_m"),
        Field(
            "changes_per_h",
            gettext_lazy("Air changes an hour, lamps on"),
            None,
            0,
            120,
            example=0.3,
            help=gettext_lazy("A closed room 0.1 to 0.5; a running fan 20 and more."),
        ),
        fields.PPFD,
        fields.AIR_TEMP,
        Field(
            "co2_ppm",
            gettext_lazy("CO2 now"),
            "ppm",
            50,
            100_000,
            example=420,
            optional=True,
            prefill="co2_ppm",
        ),
        Field(
            "target_ppm",
            gettext_lazy("CO2 wanted"),
            "ppm",
            400,
            1500,
            example=1000,
            optional=True,
            help=gettext_lazy("Never above 1500. Left empty, the most that makes sense."),
        ),
    ),
    compute,
)
