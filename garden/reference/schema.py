"""The shape of the reference data: what an entry of each file may say.

Every model is frozen and refuses unknown keys. Checks between entries (does this source exist, does a
band stay inside the reading's limits) are made by the loader.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

NO_SOURCE = "common practice, no source"
"""What a `source` field says when a statement is shop practice that nobody has published."""


def _check_text(value: dict[str, str]) -> dict[str, str]:
    if not value.get("en", "").strip():
        raise ValueError("the text needs an English version under “en”")
    if any(not words.strip() for words in value.values()):
        raise ValueError("no language of the text may be empty")
    return value


Text = Annotated[dict[str, str], AfterValidator(_check_text)]
"""A text for people: one version per language code, English always among them."""

Code = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
ReadingCode = Annotated[str, Field(pattern=r"^[a-z0-9]+(_[a-z0-9]+)*$")]
Fraction = Annotated[float, Field(ge=0, le=1)]
Place = Literal["air", "root-zone", "feed", "runoff", "water", "light"]


def text(value: Mapping[str, str], lang: str = "en") -> str:
    """Return the version of a text in `lang` (such as "en" or "de-at"), or else the English one."""
    return value.get(lang) or value.get(lang.split("-")[0]) or value["en"]


class Entry(BaseModel):
    """Base of all entries: frozen, unknown keys refused, infinities and not-a-number refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)


class Source(Entry):
    """A published source and how far it was read."""

    id: Code
    title: str = Field(min_length=3)
    authors: str = Field(min_length=2)
    year: int | None = Field(default=None, ge=1800, le=2100)
    publisher: str = Field(min_length=2)
    link: str | None = None
    status: Literal["read", "read-in-copy", "memory", "common-practice"]


class Reading(Entry):
    """Something measured or computed: outside min..max it is refused, outside usual it is questioned."""

    code: ReadingCode
    name: Text
    unit: str
    us_unit: str | None = None
    min: float
    max: float
    usual_min: float
    usual_max: float
    place: Place
    decimals: int = Field(ge=0, le=4)
    derived: bool = False

    @field_validator("max")
    @classmethod
    def _above_min(cls, value: float, info: ValidationInfo) -> float:
        return _not_below(value, info, "min")

    @field_validator("usual_min")
    @classmethod
    def _inside_min(cls, value: float, info: ValidationInfo) -> float:
        return _not_below(value, info, "min")

    @field_validator("usual_max")
    @classmethod
    def _inside_max(cls, value: float, info: ValidationInfo) -> float:
        _not_below(value, info, "usual_min")
        return _not_above(value, info, "max")


class Stage(Entry):
    """A stage of growth in shop words, with the BBCH principal stages it covers."""

    code: Code
    name: Text
    bbch_principal: tuple[Annotated[int, Field(ge=0, le=9)], ...]


class System(Entry):
    """A way of growing: whether the solution comes back, and whether roots stand in a filled container."""

    code: Code
    name: Text
    recirculating: bool
    container: bool


class Medium(Entry):
    """A growing medium. Fractions are by volume of the container; null where there is no medium."""

    code: Code
    name: Text
    container_capacity: Fraction | None
    available_water: Fraction | None
    air_space: Fraction | None
    dry_density_kg_l: Annotated[float, Field(gt=0, le=3)] | None
    source: str
    note: Text | None = None

    @field_validator("available_water")
    @classmethod
    def _part_of_capacity(cls, value: float | None, info: ValidationInfo) -> float | None:
        capacity = info.data.get("container_capacity")
        if value is not None and capacity is not None and value > capacity:
            raise ValueError(f"it must not exceed container_capacity ({capacity:g})")
        return value

    @field_validator("air_space")
    @classmethod
    def _fits_volume(cls, value: float | None, info: ValidationInfo) -> float | None:
        capacity = info.data.get("container_capacity")
        if value is not None and capacity is not None and value + capacity > 1:
            raise ValueError(f"together with container_capacity ({capacity:g}) it must not exceed 1")
        return value


class Lamp(Entry):
    """A type of lamp. `lux_per_umol` is null where no factor can be used; then lux is not converted."""

    code: Code
    name: Text
    efficacy_umol_j: float = Field(gt=0, le=5)
    lux_per_umol: Annotated[float, Field(ge=10, le=200)] | None
    source: str
    lux_source: str | None = None
    note: Text | None = None


class Band(Entry):
    """Comfortable from low to high, tolerated from wide_low to wide_high, in the unit of the reading."""

    low: float
    high: float
    wide_low: float
    wide_high: float
    source: str
    note: Text | None = None

    @field_validator("high")
    @classmethod
    def _above_low(cls, value: float, info: ValidationInfo) -> float:
        return _not_below(value, info, "low")

    @field_validator("wide_low")
    @classmethod
    def _outside_low(cls, value: float, info: ValidationInfo) -> float:
        return _not_above(value, info, "low")

    @field_validator("wide_high")
    @classmethod
    def _outside_high(cls, value: float, info: ValidationInfo) -> float:
        return _not_below(value, info, "high")


class StageBands(Entry):
    """The bands that differ in one stage of growth."""

    bands: Mapping[str, Band]


class Crop(Entry):
    """A crop, or a generic profile when `profile_of` is null.

    `kind_of` names the bundled crop a shop's own profile was made from: rules about that crop hold for it.
    """

    code: Code
    name: Text
    profile_of: Code | None
    kind_of: Code | None = None
    latin: str | None
    notes: Text | None
    bands: Mapping[str, Band]
    stages: Mapping[str, StageBands] = Field(default_factory=dict)

    @property
    def is_profile(self) -> bool:
        """Whether this is a generic profile that other crops fall back to."""
        return self.profile_of is None

    def band(self, reading: str, stage: str | None = None) -> Band | None:
        """Return the band of a reading in a stage, else the one for all stages, else None."""
        special = self.stages.get(stage) if stage else None
        if special and reading in special.bands:
            return special.bands[reading]
        return self.bands.get(reading)

    def with_fallback(self, profile: Self) -> Self:
        """Return this crop with the profile's bands wherever it says nothing about a reading itself.

        A crop's own band for all stages wins over the profile's band for one stage.
        """
        stages: dict[str, StageBands] = {}
        for stage in {**profile.stages, **self.stages}:
            inherited = profile.stages[stage].bands if stage in profile.stages else {}
            own = self.stages[stage].bands if stage in self.stages else {}
            kept = {reading: band for reading, band in inherited.items() if reading not in self.bands}
            stages[stage] = StageBands(bands={**kept, **own})
        return self.model_copy(update={"bands": {**profile.bands, **self.bands}, "stages": stages})


class Salt(Entry):
    """A raw salt by its formula, or a chelate by its trade percentage. `ions` of one unit of the formula."""

    code: Code
    name: Text
    formula: str | None = None
    ions: Mapping[str, Annotated[float, Field(gt=0, le=20)]] = Field(default_factory=dict)
    urea_n: float = Field(default=0, ge=0, le=10)
    percents: Mapping[str, Annotated[float, Field(gt=0, le=100)]] = Field(default_factory=dict)
    stable_to_ph: Annotated[float, Field(ge=4, le=12)] | None = None
    source: str
    note: Text | None = None

    @model_validator(mode="after")
    def _formula_or_percents(self) -> Self:
        if (self.formula is None) == (not self.percents):
            raise ValueError("give either formula (with its ions) or percents, not both and not neither")
        return self


class AcidGrade(Entry):
    """A strength an acid is sold in; `density_g_ml` is null for a powder."""

    code: Code
    acid: Literal["sulfuric", "phosphoric", "nitric", "citric", "hydrochloric"]
    name: Text
    percent: float = Field(gt=0, le=100)
    density_g_ml: Annotated[float, Field(ge=0.95, le=2)] | None
    source: str
    note: Text | None = None


class AcidCaution(Entry):
    """A warning beside a dose of acid."""

    code: Code
    text: Text
    source: str


PhBand = tuple[Annotated[float, Field(ge=3, le=10)], Annotated[float, Field(ge=3, le=10)]]


class Element(Entry):
    """A nutrient, or what else water carries, with the pH at which roots find it (from, to)."""

    code: Code
    symbol: str = Field(pattern=r"^[A-Z][a-z]?$")
    name: Text
    group: Literal["main", "secondary", "trace", "other"]
    label_as: str | None
    good: PhBand | None
    fair: PhBand | None
    source: str
    note: Text | None = None

    @field_validator("fair")
    @classmethod
    def _around_good(cls, value: PhBand | None, info: ValidationInfo) -> PhBand | None:
        good: PhBand | None = info.data.get("good")
        if (good is None) != (value is None):
            raise ValueError("give both good and fair, or neither")
        if good and value and not value[0] <= good[0] <= good[1] <= value[1]:
            raise ValueError(f"it must enclose good ({good[0]:g} to {good[1]:g})")
        return value


class TargetRecipe(Entry):
    """A published solution, mg/L by element symbol."""

    code: Code
    name: Text
    mg_l: Mapping[str, Annotated[float, Field(ge=0, le=2000)]] = Field(min_length=1)
    ec_ms_cm: Annotated[float, Field(gt=0, le=10)] | None = None
    source: str
    note: Text | None = None


class WaterLimit(Entry):
    """A published limit of irrigation water: up to `fine` no restriction, above `severe` a severe one."""

    code: Code
    quantity: ReadingCode
    unit: str
    fine: Annotated[float, Field(gt=0)] | None
    severe: Annotated[float, Field(gt=0)] | None
    use: Text
    source: str
    note: Text | None = None

    @field_validator("severe")
    @classmethod
    def _above_fine(cls, value: float | None, info: ValidationInfo) -> float | None:
        return value if value is None else _not_below(value, info, "fine")


class Solid(Entry):
    """A solid that may fall out of a solution, in simple words."""

    code: Code
    name: Text
    words: Text
    source: str


@dataclass(frozen=True)
class Reference:
    """All reference data by code. Profiles stand among the crops as well."""

    crops: Mapping[str, Crop]
    stages: Mapping[str, Stage]
    systems: Mapping[str, System]
    media: Mapping[str, Medium]
    lamps: Mapping[str, Lamp]
    readings: Mapping[str, Reading]
    profiles: Mapping[str, Crop]
    sources: Mapping[str, Source]
    salts: Mapping[str, Salt]
    acids: Mapping[str, AcidGrade]
    acid_cautions: Mapping[str, AcidCaution]
    elements: Mapping[str, Element]
    recipes: Mapping[str, TargetRecipe]
    water_limits: Mapping[str, WaterLimit]
    solids: Mapping[str, Solid]


def _not_below(value: float, info: ValidationInfo, other: str) -> float:
    bound = info.data.get(other)
    if bound is not None and value < bound:
        raise ValueError(f"it must not be below {other} ({bound:g})")
    return value


def _not_above(value: float, info: ValidationInfo, other: str) -> float:
    bound = info.data.get(other)
    if bound is not None and value > bound:
        raise ValueError(f"it must not be above {other} ({bound:g})")
    return value
