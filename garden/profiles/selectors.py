"""Reads the shop's own crop profiles, and joins them to the bundled reference data."""

import dataclasses
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType

from django.db.models import Count, IntegerField, Max, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from pydantic import ValidationError

from garden.agronomy.units import display
from garden.models import CropProfile, Planting
from garden.reference.loader import bundled_reference, load_reference, text
from garden.reference.schema import NO_SOURCE, Band, Crop, Reference
from garden.wording import Wording

log = logging.getLogger("desk.profiles")

# What the form offers, in its order. What is not offered is always taken over from the crop it is based on.
OFFERED = (
    "air_temp_c", "night_temp_c", "rh_percent", "night_rh_percent", "vpd_kpa", "ppfd_umol_m2_s",
    "dli_mol_m2_d", "feed_ec_ms_cm", "root_zone_ec_ms_cm", "runoff_ec_ms_cm", "feed_ph", "root_zone_ph",
    "runoff_ph", "root_zone_temp_c",
)  # fmt: skip
EDGES = ("wide_low", "low", "high", "wide_high")
_LAST_RESORT = "generic-leafy"


def reference_current() -> Reference:
    """The bundled reference data with the shop's own crops as they are now. One query; two after a change.

    An issued plan keeps what it was made with. A case that is ranked again is judged by the profile as it is
    now, not as it was then.
    """
    found = CropProfile.objects.aggregate(count=Count("pk"), latest=Max("updated_at"))
    return _merged(found["count"], found["latest"]) if found["count"] else bundled_reference()


@lru_cache(maxsize=4)
def _merged(count: int, latest: datetime) -> Reference:
    """What the rows came to when there were so many and the last change was then: any change changes one."""
    bundled = bundled_reference()
    crops: dict[str, Crop] = dict(bundled.crops)
    # In the order they were made: a profile is never based on a later one.
    for row in CropProfile.objects.order_by("pk"):
        try:
            crops[row.code] = own_crop(row, crops)
        except (ValidationError, TypeError, AttributeError):
            log.exception("The crop profile %s cannot be used; it is left out", row.code)
    return dataclasses.replace(bundled, crops=MappingProxyType(crops))


def base_of(row: CropProfile, crops: Mapping[str, Crop]) -> Crop:
    """The crop a profile is based on; a leafy crop when the program no longer knows it."""
    return crops.get(row.based_on) or crops[_LAST_RESORT]


def own_crop(row: CropProfile, crops: Mapping[str, Crop]) -> Crop:
    """The crop of a profile, complete. Its own bands hold in every stage of growth."""
    base = base_of(row, crops)
    note = {"en": "Own profile of the shop"}
    own = Crop(
        code=row.code,
        name={"en": row.name},
        profile_of=base.profile_of or base.code,
        kind_of=base.kind_of or base.code,
        latin=None,
        notes={"en": row.note} if row.note.strip() else None,
        bands={code: Band(**edges, source=NO_SOURCE, note=note) for code, edges in row.bands.items()},
    )
    return own.with_fallback(base)


@dataclass(frozen=True)
class ProfileLine:
    """One own profile as the list shows it: `bands` are (reading, comfortable, tolerated)."""

    pk: int
    name: str
    based_on: str
    note: str
    bands: tuple[tuple[str, str, str], ...]
    plantings: int
    updated_at: datetime


def profile_lines(units: str) -> list[ProfileLine]:
    """All own profiles by name, in a system of units. One query."""
    crops, lang = load_reference().crops, get_language() or "en"
    planted = Planting.objects.filter(crop=OuterRef("code")).order_by().values("crop")
    counted = planted.annotate(count=Count("pk")).values("count")
    rows = CropProfile.objects.annotate(
        planted=Coalesce(Subquery(counted, output_field=IntegerField()), 0)
    ).order_by("name", "pk")
    return [
        ProfileLine(
            pk=row.pk,
            name=row.name,
            based_on=text(base_of(row, crops).name, lang),
            note=row.note,
            bands=tuple(_band_lines(row, Wording(units), lang)),
            plantings=row.planted,
            updated_at=row.updated_at,
        )
        for row in rows
    ]


def _band_lines(row: CropProfile, wording: Wording, lang: str) -> list[tuple[str, str, str]]:
    readings, lines = load_reference().readings, []
    for code in OFFERED:
        edges = row.bands.get(code)
        if not edges:
            continue
        reading = readings[code]
        said = {}
        for edge in EDGES:
            value, unit = display(edges[edge], reading.unit, wording.system)
            said[edge] = wording.number(value, reading.decimals)
        spans = [
            _("%(low)s to %(high)s") % {"low": said[low], "high": f"{said[high]} {unit}"}
            for low, high in (("low", "high"), ("wide_low", "wide_high"))
        ]
        lines.append((text(reading.name, lang), spans[0], spans[1]))
    return lines
