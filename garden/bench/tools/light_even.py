"""How evenly lamps light a canopy: the map."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.light_map import Lamp, LightMap, lamp_rows, light_map
from garden.bench.fields import side
from garden.bench.measures import FT2_PER_M2, alike
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Tool, Values, amount, maybe, word
from garden.figures.light_map import LightMapLabels, light_map_figure
from garden.wording import Wording

# What walls send back: judgement, and a mirror's law on top, so the light at the edges is rather flattered.
_WALLS = {"open": 0.0, "dull": 0.3, "white": 0.6, "film": 0.8}


def _walls() -> Choices:
    return (
        ("open", _("none, or dark")),
        ("dull", _("bare or grey")),
        ("white", _("white")),
        ("film", _("reflecting film")),
    )


def _working(wording: Wording, found: LightMap, flux_umol_s: float, reflected: float) -> tuple[str, ...]:
    m2 = found.length_m * found.width_m
    area = alike(wording, "m²", m2, m2)[0]
    if wording.system == "us":
        area += f" ÷ {wording.number(FT2_PER_M2, 2)}"  # µmol are of a square metre
    return (
        _("light of every lamp by inverse square and cosine; lamps spread evenly, cut into points"),
        _("walls send back %s of the light that meets them, as mirrors: judgement") % f"{reflected:g}",
        _("evenness: %(low)s ÷ %(mean)s = %(even)s")
        % {
            "low": f"{found.lowest_umol_m2_s:.0f}",
            "mean": f"{found.mean_umol_m2_s:.0f}",
            "even": f"{found.evenness:.2f}",
        },
        _("on the canopy: %(mean)s µmol/m²/s × %(area)s ÷ %(flux)s µmol/s = %(share)s")
        % {
            "mean": f"{found.mean_umol_m2_s:.0f}",
            "area": area,
            "flux": f"{flux_umol_s:.0f}",
            "share": f"{found.utilisation:.2f}",
        },
    )


def _picture(found: LightMap, lamps: Sequence[Lamp]) -> str:
    labels = LightMapLabels(_("mean"), _("lowest"), _("highest"), _("evenness"), _("lamp"), _("µmol/m²/s"))
    return light_map_figure(
        found.ppfd_umol_m2_s.tolist(),
        found.length_m,
        found.width_m,
        title=_("Light over the canopy"),
        labels=labels,
        lamps=[(each.x_m, each.y_m) for each in lamps],
    )


def compute(values: Values, wording: Wording) -> Answer:
    length, width = amount(values, "length_m"), amount(values, "width_m")
    lamp = Lamp(
        0,
        0,
        amount(values, "height_m"),
        amount(values, "flux_umol_s"),
        maybe(values, "lamp_length_m") or 0.0,
        maybe(values, "lamp_width_m") or 0.0,
    )
    along, across = round(amount(values, "along")), round(maybe(values, "across") or 1)
    lamps = lamp_rows(lamp, length, width, along, across)
    reflected = _WALLS[word(values, "walls")]
    found = light_map(lamps, length, width, wall_reflectance=reflected, nx=20, ny=20)
    headline = _("%(mean)s on average; the darkest place gets %(even)s of that") % {
        "mean": wording.light(found.mean_umol_m2_s),
        "even": wording.percent(found.evenness),
    }
    facts = (
        (_("Brightest"), wording.light(found.highest_umol_m2_s)),
        (_("Darkest"), wording.light(found.lowest_umol_m2_s)),
        (_("Of the lamps' light on the canopy"), wording.percent(found.utilisation)),
        (_("Lamps"), f"{len(lamps)}"),
    )
    notes = (_("An empty, flat canopy is reckoned. Measure at nine places before you move anything."),)
    return Answer(
        headline,
        facts,
        _working(wording, found, lamp.flux_umol_s * len(lamps), reflected),
        sources(_("Inverse square and cosine laws, bars and panels added up from points")),
        (),
        _picture(found, lamps),
        estimate=True,
        notes=notes,
    )


TOOL = Tool(
    "light-even",
    gettext_lazy("How even is the light?"),
    gettext_lazy("A map of the light over the canopy, from the lamps, their height and the walls."),
    "light",
    (
        side("length_m", gettext_lazy("Length of the canopy"), 1.2, 50, "length_m"),
        side("width_m", gettext_lazy("Width of the canopy"), 1.2, 50, "width_m"),
        Field("along", gettext_lazy("Lamps along the length"), None, 1, 10, example=2, prefill="lamp_count"),
        Field(
            "across",
            gettext_lazy("Lamps across the width"),
            None,
            1,
            10,
            example=1,
            optional=True,
            help=gettext_lazy("One row when left empty."),
        ),
        Field(
            "flux_umol_s",
            gettext_lazy("Photons of one lamp"),
            "µmol/s",
            0,
            20_000,
            above=True,
            example=300,
            prefill="lamp_flux_umol_s",
            help=gettext_lazy("On its sheet as PPF; watts times µmol/J."),
        ),
        Field(
            "height_m",
            gettext_lazy("Lamps above the leaves"),
            "m",
            0.02,
            20,
            example=0.4,
            metric_unit="cm",
            us_unit="in",
            prefill="lamp_height_m",
        ),
        Field(
            "lamp_length_m",
            gettext_lazy("Length of one lamp"),
            "m",
            0,
            10,
            example=0.5,
            optional=True,
            metric_unit="cm",
            us_unit="in",
        ),
        Field(
            "lamp_width_m",
            gettext_lazy("Width of one lamp"),
            "m",
            0,
            10,
            example=0.1,
            optional=True,
            metric_unit="cm",
            us_unit="in",
        ),
        Field("walls", gettext_lazy("Walls at the edges"), choices=_walls, example="white"),
    ),
    compute,
)
