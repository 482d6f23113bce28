"""A grower's gardens in short lines, in the grower's units: what the page about them shows."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from django.utils.formats import number_format
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from garden.agronomy.units import System, display
from garden.models import Garden, Grower, Lamp, Planting, Space, WaterSource
from garden.reference.loader import load_reference, text


@dataclass(frozen=True)
class PlantingLine:
    pk: int
    crop: str
    plants: str
    note: str


@dataclass(frozen=True)
class SpaceLine:
    kind: str
    lamps: tuple[str, ...]
    plantings: tuple[PlantingLine, ...]


@dataclass(frozen=True)
class GardenLines:
    pk: int
    name: str
    spaces: tuple[SpaceLine, ...]
    waters: tuple[str, ...]
    feeds: tuple[str, ...]


def garden_lines(grower: Grower) -> list[GardenLines]:
    """All gardens of a grower; no query when they were read beforehand (`grower_with_gardens`)."""
    return [_garden(garden, cast(System, grower.units)) for garden in grower.gardens.all()]


def amount_text(value: float, unit: str, system: System) -> str:
    """A stored amount as people of a unit system read it, such as "7.5 L" or "2 US gal"."""
    shown, label = display(value, unit, system)
    return f"{_plain(shown)} {label}"


def _garden(garden: Garden, system: System) -> GardenLines:
    return GardenLines(
        pk=garden.pk,
        name=garden.name or _("Garden"),
        spaces=tuple(_space(space, system) for space in garden.spaces.all()),
        waters=tuple(_water(water) for water in garden.waters.all()),
        feeds=tuple(feed.product for feed in garden.feeds.all()),
    )


def _space(space: Space, system: System) -> SpaceLine:
    sizes = [space.length_m, space.width_m, space.height_m]
    size = " × ".join(amount_text(side, "m", system) for side in sizes if side is not None)
    return SpaceLine(
        kind=f"{space.get_kind_display()} {size}".strip(),
        lamps=tuple(_lamp(lamp) for lamp in space.lamps.all()),
        plantings=tuple(_planting(planting, system) for planting in space.plantings.all()),
    )


def _lamp(lamp: Lamp) -> str:
    line = f"{lamp.count} × {_name(load_reference().lamps, lamp.type)}"
    if lamp.hours is None:
        return line
    return _("%(lamp)s, %(hours)s h a day") % {"lamp": line, "hours": _plain(lamp.hours)}


def _planting(planting: Planting, system: System) -> PlantingLine:
    reference = load_reference()
    kinds: list[tuple[Mapping[str, Any], str]] = [
        (reference.stages, planting.stage),
        (reference.systems, planting.system),
        (reference.media, planting.medium),
    ]
    parts = [_name(known, code) for known, code in kinds if code]
    if planting.container_l:
        parts.append(amount_text(planting.container_l, "L", system))
    count = planting.plants
    return PlantingLine(
        pk=planting.pk,
        crop=planting.crop_name,
        plants=ngettext("%(count)d plant", "%(count)d plants", count) % {"count": count} if count else "",
        note=" · ".join(parts),
    )


def _water(water: WaterSource) -> str:
    parts = [str(water.get_source_display())]
    if water.alkalinity_mg_l is not None:
        parts.append(_("alkalinity %(value)s mg/L") % {"value": _plain(water.alkalinity_mg_l)})
    if water.ec_ms_cm is not None:
        parts.append(_("EC %(value)s mS/cm") % {"value": _plain(water.ec_ms_cm)})
    return " · ".join(parts)


def _name(known: Mapping[str, Any], code: str) -> str:
    return text(known[code].name, get_language() or "en") if code in known else code


def _plain(value: float) -> str:
    rounded = float(f"{value:.3g}")
    return number_format(int(rounded) if rounded == int(rounded) else rounded)
