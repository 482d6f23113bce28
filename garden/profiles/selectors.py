"""Reads the shop's own crop profiles, and joins them to the bundled reference data."""

import dataclasses
import logging
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType

from django.db.models import Count, IntegerField, Max, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from garden.models import CropProfile, Planting
from garden.profiles.limits import OFFERED, Bands, spans
from garden.reference.loader import ReferenceDataError, bundled_reference, load_crop, load_reference, text
from garden.reference.schema import NO_SOURCE, Crop, Reference
from garden.wording import Wording

log = logging.getLogger("desk.profiles")

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
        except (ReferenceDataError, TypeError, AttributeError):
            log.exception("The crop profile %s cannot be used; it is left out", row.code)
    return dataclasses.replace(bundled, crops=MappingProxyType(crops))


def base_of(row: CropProfile, crops: Mapping[str, Crop]) -> Crop:
    """The crop a profile is based on; a leafy crop when the program no longer knows it."""
    return crops.get(row.based_on) or crops[_LAST_RESORT]


def own_crop(row: CropProfile, crops: Mapping[str, Crop]) -> Crop:
    """The crop of a profile, complete, through the checks of the bundled crops.

    Its bands hold in every stage of growth that has none of its own. Raises ReferenceDataError; TypeError or
    AttributeError for what is no band at all.
    """
    base = base_of(row, crops)
    raw = {
        "code": row.code,
        "name": {"en": row.name},
        "profile_of": base.profile_of or base.code,
        "kind_of": base.kind_of or base.code,
        "latin": None,
        "notes": {"en": row.note} if row.note.strip() else None,
        "bands": _sourced(row.bands),
        "stages": {stage: {"bands": _sourced(bands)} for stage, bands in row.stages.items()},
    }
    return load_crop(raw, file="the shop's own profiles", base=base, reference=bundled_reference())


def _sourced(bands: Bands) -> dict[str, dict[str, object]]:
    """Bands as a crop file writes them."""
    note = {"en": "Own profile of the shop"}
    return {code: {**edges, "source": NO_SOURCE, "note": note} for code, edges in bands.items()}


@dataclass(frozen=True)
class StageTab:
    """A part of the form of a profile: all stages ("") or one, and how many bands it has of its own there."""

    code: str
    name: str
    count: int
    here: bool


def stage_tabs(row: CropProfile, here: str) -> list[StageTab]:
    """The parts of a profile's form, in the order plants grow; no query."""
    lang = get_language() or "en"
    tabs = [StageTab("", _("All stages"), len(row.bands), here == "")]
    for code, stage in load_reference().stages.items():
        tabs.append(StageTab(code, text(stage.name, lang), len(row.stages.get(code, {})), here == code))
    return tabs


BandLine = tuple[str, str, str]
"""Reading, comfortable, tolerated, in words."""


@dataclass(frozen=True)
class ProfileLine:
    """One own profile as the list shows it: `limits` are (stage or "", its lines), a line is a `BandLine`."""

    pk: int
    name: str
    based_on: str
    note: str
    limits: tuple[tuple[str, tuple[BandLine, ...]], ...]
    plantings: int
    updated_at: datetime

    @property
    def count(self) -> int:
        """How many bands the profile has of its own, in all stages together."""
        return sum(len(lines) for _stage, lines in self.limits)


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
            limits=tuple(_limits(row, Wording(units), lang)),
            plantings=row.planted,
            updated_at=row.updated_at,
        )
        for row in rows
    ]


def _limits(row: CropProfile, wording: Wording, lang: str) -> Iterator[tuple[str, tuple[BandLine, ...]]]:
    """What a profile says itself: first what holds in all stages (""), then stage by stage as they follow."""
    if row.bands:
        yield "", tuple(_band_lines(row.bands, wording, lang))
    for code, stage in load_reference().stages.items():
        if bands := row.stages.get(code):
            yield text(stage.name, lang), tuple(_band_lines(bands, wording, lang))


def _band_lines(bands: Bands, wording: Wording, lang: str) -> Iterator[BandLine]:
    readings = load_reference().readings
    for code in OFFERED:
        if edges := bands.get(code):
            reading = readings[code]
            yield text(reading.name, lang), *spans(edges, reading, wording)
