"""The parts of the garden's screen taken together."""

from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from garden.models import Garden
from garden.people.garden_forms import (
    FeedForm,
    LampForm,
    NameForm,
    PartForm,
    PlantingForm,
    SpaceForm,
    WaterForm,
)
from garden.people.layout import part_helper
from garden.people.services import GardenData
from garden.reference.loader import load_reference, text

_LAMPS, _FEEDS = 3, 4


class ReplantForm(PartForm):
    new_planting = forms.BooleanField(
        label=_("These are new plants: keep the earlier planting on record"), required=False
    )
    helper = part_helper("new_planting")


class GardenScreen:
    """All parts, filled from a garden, or from what was sent."""

    def __init__(
        self, *, system: str, garden: Garden | None = None, sent: Mapping[str, Any] | None = None
    ) -> None:
        space = garden.spaces.first() if garden else None
        lamps: list[Any] = list(space.lamps.all()) if space else []
        feeds: list[Any] = list(garden.feeds.all()) if garden else []
        planting = space.plantings.order_by("-pk").first() if space else None

        def part(kind: type[PartForm], prefix: str, stored: Any) -> Any:
            return kind(sent, prefix=prefix, system=system, stored=stored)

        self.name: NameForm = part(NameForm, "garden", garden)
        self.space: SpaceForm = part(SpaceForm, "space", space)
        self.lamps = [part(LampForm, f"lamp-{i}", row) for i, row in _padded(lamps, _LAMPS)]
        self.water: WaterForm = part(WaterForm, "water", garden.waters.first() if garden else None)
        self.feeds = [part(FeedForm, f"feed-{i}", row) for i, row in _padded(feeds, _FEEDS)]
        self.planting: PlantingForm = part(PlantingForm, "planting", planting)
        self.replant: ReplantForm | None = part(ReplantForm, "replant", None) if planting else None

    def __iter__(self) -> Iterator[PartForm]:
        yield from (self.name, self.space, *self.lamps, self.water, *self.feeds, self.planting)
        if self.replant:
            yield self.replant

    def is_valid(self) -> bool:
        checked = [part.is_valid() for part in self]  # all of them: every part shows its errors at once
        return all(checked)

    @property
    def has_errors(self) -> bool:
        return any(part.is_bound and part.errors for part in self)

    @property
    def crop_names(self) -> list[str]:
        lang, reference = get_language() or "en", load_reference()
        return sorted(
            text(c.name, lang) for code, c in reference.crops.items() if code not in reference.profiles
        )

    def data(self) -> GardenData:
        """What the valid parts say, empty rows left out."""
        return GardenData(
            garden=self.name.cleaned_data,
            space=self.space.cleaned_data,
            lamps=[lamp.cleaned_data for lamp in self.lamps if not lamp.is_empty()],
            water=None if self.water.is_empty() else self.water.cleaned_data,
            feeds=[feed.cleaned_data for feed in self.feeds if not feed.is_empty()],
            planting=self.planting.cleaned_data,
            new_planting=bool(self.replant and self.replant.cleaned_data["new_planting"]),
        )

    def questions(self) -> list[str]:
        return [question for part in self if not part.is_empty() for question in part.questions()]


def _padded(rows: list[Any], at_least: int) -> Iterator[tuple[int, Any]]:
    for index in range(max(at_least, len(rows))):
        yield index, rows[index] if index < len(rows) else None
