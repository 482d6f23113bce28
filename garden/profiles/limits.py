"""The limits of a profile: which there are, what holds where it says nothing, and how they are said."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from garden.agronomy.units import display
from garden.reference.loader import load_reference, text
from garden.reference.schema import Band, Crop, Reading
from garden.wording import Wording

Edges = dict[str, float]
"""One band in the reading's stored unit: {edge: value}, all four edges."""
Bands = dict[str, Edges]
"""{reading code: edges}."""

# What the form offers, in its order. What is not offered is always taken over from the crop it is based on.
OFFERED = (
    "air_temp_c", "night_temp_c", "rh_percent", "night_rh_percent", "vpd_kpa", "ppfd_umol_m2_s",
    "dli_mol_m2_d", "feed_ec_ms_cm", "root_zone_ec_ms_cm", "runoff_ec_ms_cm", "feed_ph", "root_zone_ph",
    "runoff_ph", "root_zone_temp_c",
)  # fmt: skip
EDGES = ("wide_low", "low", "high", "wide_high")


@dataclass(frozen=True)
class Standing:
    """The band that holds where a profile says nothing itself, and whose it is, in words."""

    edges: Edges
    whose: str


def standing(base: Crop, own: Bands, stage: str = "") -> dict[str, Standing]:
    """What holds for each reading offered where a stage ("" for all stages) of a profile is left empty.

    In a stage: the band the profile itself has for all stages (`own`), then that of the crop it is based on
    for this stage, then the one for all stages. In all stages: only the last. The same order as
    `Crop.with_fallback`, which a test holds it to. A reading without any band is left out.
    """
    special = base.stages.get(stage)
    found: dict[str, Standing] = {}
    for code in OFFERED:
        if stage and code in own:
            found[code] = Standing(own[code], _("this profile, all stages"))
        elif special and code in special.bands:
            words = {"crop": _name(base.name), "stage": stage_name(stage)}
            found[code] = Standing(edges_of(special.bands[code]), _("%(crop)s, %(stage)s") % words)
        elif code in base.bands:
            words = {"crop": _name(base.name)}
            found[code] = Standing(edges_of(base.bands[code]), _("%(crop)s, all stages") % words)
    return found


def stages_apart(base: Crop, code: str) -> list[str]:
    """The names of the stages in which a crop has a band of its own for a reading."""
    stages = load_reference().stages
    return [
        stage_name(stage) for stage in stages if stage in base.stages and code in base.stages[stage].bands
    ]


def edges_of(band: Band) -> Edges:
    """The four edges of a band of a crop."""
    return {edge: float(getattr(band, edge)) for edge in EDGES}


def spans(edges: Edges, reading: Reading, wording: Wording) -> tuple[str, str]:
    """A band in words: comfortable, tolerated, such as "15.0 to 20.0 °C"."""
    said, unit = {}, ""
    for edge in EDGES:
        value, unit = display(edges[edge], reading.unit, wording.system)
        said[edge] = wording.number(value, reading.decimals)
    comfortable, tolerated = (
        _("%(low)s to %(high)s") % {"low": said[low], "high": f"{said[high]} {unit}"}
        for low, high in (("low", "high"), ("wide_low", "wide_high"))
    )
    return comfortable, tolerated


def stage_name(stage: str) -> str:
    """A stage of growth by its code, in the reader's language."""
    return _name(load_reference().stages[stage].name)


def _name(words: Mapping[str, str]) -> str:
    return text(words, get_language() or "en")
