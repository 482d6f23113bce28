"""What a rule set is made of: causes, findings, practices, reading conditions, cautions and sources.

Nobody publishes how often a cause shows a finding in soilless herbs and vegetables. Every number that the
words below stand for (`STRENGTHS`, `PRIORS`), every odds factor and every leak is therefore
**judgement**: a starting value for the shop's own confirmed cases to replace, never a measurement.
"""

from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    StrictBool,
    StringConstraints,
    model_serializer,
    model_validator,
)

from garden.reference.schema import Code, ReadingCode, Text

FACTOR_MIN = 1 / 8
FACTOR_MAX = 8.0

StrengthWord = Literal["almost-always", "often", "sometimes", "rarely"]
PriorWord = Literal["common", "fairly-common", "uncommon", "rare"]

# Judgement: the middle of each band, P(finding present | only this cause is true).
STRENGTHS: dict[StrengthWord, float] = {
    "almost-always": 0.92,
    "often": 0.68,
    "sometimes": 0.32,
    "rarely": 0.08,
}
# Judgement: P(cause is true) before anything is known about the case.
PRIORS: dict[PriorWord, float] = {
    "common": 0.08,
    "fairly-common": 0.045,
    "uncommon": 0.02,
    "rare": 0.006,
}

CauseGroup = Literal[
    "watering", "nutrition", "climate", "light", "propagation", "pests", "diseases", "chemical", "other"
]
PlantPart = Literal[
    "leaf",
    "stem",
    "root",
    "flower",
    "fruit",
    "whole",
    "medium",
    "seedling",
    "cutting",
    "room",
    "solution",
]
LeafAge = Literal["old", "mid", "young", "any"]
CheckKind = Literal["glance", "hand-lens", "lift-pot", "roots", "meter", "laboratory"]
ActionTime = Literal["today", "this-week", "later"]
BandEdge = Literal["low", "high", "wide_low", "wide_high"]
QuantityCode = Literal[
    "watering-interval",
    "watering-volume",
    "leach-volume",
    "reservoir-dilution",
    "feed-ec-target",
    "feed-dilution",
    "ph-target",
    "alkalinity-removal",
    "lamp-dim",
    "lamp-raise",
    "lamp-hours",
    "lamp-brighten",
    "humidity-target",
    "vpd-target",
    "day-temperature-target",
    "night-temperature-target",
    "root-temperature-target",
    "magnesium-drench",
]

Words = Annotated[str, StringConstraints(min_length=1, max_length=2000, strip_whitespace=True, strict=True)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Factor = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=FACTOR_MIN, le=FACTOR_MAX)]


class Entry(BaseModel):
    """Base of everything in a rule set: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Finding(Entry):
    """Something staff can see or feel on the plant; `leak` is how likely it is without any listed cause."""

    code: Code
    name: Text
    part: PlantPart
    leaf_age: LeafAge | None = None
    distribution: Text
    definition: Text
    plain: Text
    synonyms: tuple[Words, ...] = ()
    leak: Annotated[float, Field(strict=True, ge=0.005, le=0.10)]
    check: CheckKind
    minutes: Annotated[float, Field(strict=True, gt=0, le=20160)]
    group: Code | None = None
    source: Words


class Practice(Entry):
    """Something the grower does, or that changed lately."""

    code: Code
    name: Text
    definition: Text
    source: Words


class Condition(Entry):
    """A reading compared with an edge of the crop's band, or with a bare number.

    `reading` may also be `onset_days`, the days since the trouble was first noticed.
    """

    code: Code
    name: Text
    reading: ReadingCode
    above: BandEdge | None = None
    below: BandEdge | None = None
    above_value: Number | None = None
    below_value: Number | None = None
    by: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0)] = 0.0
    source: Words
    note: Words | None = None

    @model_validator(mode="after")
    def _one_edge(self) -> Self:
        given = [
            key for key in ("above", "below", "above_value", "below_value") if getattr(self, key) is not None
        ]
        if len(given) != 1:
            found = " and ".join(given) or "none of them"
            raise ValueError(
                "A condition needs exactly one of 'above', 'below', 'above_value' and 'below_value'; "
                f"found {found}."
            )
        if self.by and given[0].endswith("_value"):
            raise ValueError("'by' widens a band edge. With a bare number, put the number itself instead.")
        return self


class Caution(Entry):
    """A safety sentence that actions may carry."""

    code: Code
    text: Text
    source: Words


class PriorFactor(Entry):
    """An odds factor on a cause in some contexts. Lists that are given must all match."""

    crops: tuple[Code, ...] = ()
    stages: tuple[Code, ...] = ()
    systems: tuple[Code, ...] = ()
    media: tuple[Code, ...] = ()
    profiles: tuple[Code, ...] = ()
    factor: Factor
    source: Words

    @model_validator(mode="after")
    def _some_context(self) -> Self:
        if not (self.crops or self.stages or self.systems or self.media or self.profiles):
            raise ValueError(
                "A prior factor needs at least one of crops, stages, systems, media or profiles."
            )
        return self


class FindingLink(Entry):
    """How often this cause shows a finding."""

    finding: Code
    strength: StrengthWord
    source: Words

    @property
    def probability(self) -> float:
        """P(finding present | only this cause is true), from `STRENGTHS`."""
        return STRENGTHS[self.strength]


class ReadingLink(Entry):
    """Odds factors on this cause when a reading condition is true and when it is false."""

    condition: Code
    if_true: Factor
    if_false: Factor = 1.0
    source: Words


class PracticeLink(Entry):
    """Odds factor on this cause when the grower reports a practice."""

    practice: Code
    if_true: Factor
    source: Words


class Better(Entry):
    """What better looks like, and after how many days."""

    text: Text
    days: Annotated[int, Field(strict=True, ge=1, le=365)]


class Only(Entry):
    """Where an action makes sense: all that is given must hold; what is not known of a case holds."""

    systems: tuple[Code, ...] = ()
    media: tuple[Code, ...] = ()
    crops: tuple[Code, ...] = ()
    stages: tuple[Code, ...] = ()
    reservoir: StrictBool | None = None  # true: needs a tank of solution; false: makes no sense with one
    container: StrictBool | None = None  # true: needs a filled pot or slab
    practices: tuple[Code, ...] = ()  # at least one of these was reported
    reading: ReadingCode | None = None  # measured, it must lie beyond `beyond` of the crop's band
    beyond: BandEdge | None = None

    @model_validator(mode="after")
    def _reading_has_edge(self) -> Self:
        if (self.reading is None) != (self.beyond is None):
            raise ValueError("'reading' and 'beyond' belong together: give both or neither.")
        return self


class Answered(Entry):
    """A check is pointless once one of these was looked at or measured."""

    findings: tuple[Code, ...] = ()
    readings: tuple[ReadingCode, ...] = ()


class Action(Entry):
    """Something to do about a cause. The same code in two causes is the same action."""

    code: Code
    when: ActionTime
    text: Text
    why: Text
    quantity: QuantityCode | None = None
    opposes: tuple[Code, ...] = ()
    buys: StrictBool = False
    reversible: StrictBool = True  # false: cannot be undone, such as throwing plants away
    cautions: tuple[Code, ...] = ()
    stop_when: Text | None = None
    only: Only = Only()
    answered_by: Answered = Answered()

    @model_serializer(mode="wrap")
    def _as_before(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Written only where it says something: rules without it keep their version."""
        written: dict[str, Any] = handler(self)
        if self.reversible:
            written.pop("reversible", None)
        return written


class Cause(Entry):
    """A cause: how common it is, what it shows, what shifts its odds and what to do about it."""

    code: Code
    name: Text
    group: CauseGroup
    definition: Text
    aliases: tuple[Code, ...] = ()
    prior: PriorWord
    prior_factors: tuple[PriorFactor, ...] = ()
    findings: tuple[FindingLink, ...] = ()
    readings: tuple[ReadingLink, ...] = ()
    practices: tuple[PracticeLink, ...] = ()
    urgency: Annotated[int, Field(strict=True, ge=0, le=3)]
    contagious: StrictBool
    laboratory: Text | None = None
    wrong_cost: Text
    better: Better
    look_again_days: Annotated[int, Field(strict=True, ge=1, le=365)]
    actions: tuple[Action, ...] = ()

    @property
    def prior_probability(self) -> float:
        """P(cause) before context, readings and practices, from `PRIORS`."""
        return PRIORS[self.prior]
