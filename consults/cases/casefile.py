"""The case file: a case as plain, checked data. What the command line takes, the demo loads, export gives.

Pure apart from reading the file it is given: no Django, no database.
"""

import difflib
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from consults.ruleset.loader import Ruleset
from garden.reference.schema import Reference

MAX_BYTES = 1_000_000


class Problem(NamedTuple):
    field: str
    message: str


class CaseFileError(ValueError):
    """A case file that cannot be used. `problems` names each field and what to do."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{p.field}: {p.message}" for p in self.problems))


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


def _storable(words: str) -> str:
    # A database keeps every character but this one.
    if "\0" in words:
        raise PydanticCustomError("null_character", "The text holds a null character. Remove it.")
    return words


_STORABLE = AfterValidator(_storable)
Name = Annotated[str, Field(max_length=200), _STORABLE]
ShortName = Annotated[str, Field(max_length=120), _STORABLE]
Code = Annotated[str, Field(max_length=60)]
EMAIL = r"^\S+@([^@\s]+\.[^@\s]+|localhost)$"
Email = Annotated[str, Field(max_length=254, pattern=EMAIL), _STORABLE]
Amount = Annotated[float, Field(ge=0, le=1e6)]
Length = Annotated[float, Field(gt=0, le=1000)]
Codes = Annotated[tuple[Code, ...], Field(max_length=300, strict=False)]


class GrowerPart(_Part):
    name: Name | None = None
    email: Email | None = None
    phone: Annotated[str, Field(max_length=40), _STORABLE] | None = None
    units: Literal["metric", "us"] = "metric"


class SpacePart(_Part):
    kind: Literal["tent", "room", "shelf", "greenhouse", "window", "outdoors"] = "room"
    length_m: Length | None = None
    width_m: Length | None = None
    height_m: Length | None = None


class LampPart(_Part):
    type: Code
    count: Annotated[int, Field(ge=1, le=500)] = 1
    photon_flux_umol_s: Amount | None = None
    watts: Annotated[float, Field(gt=0, le=20000)] | None = None
    efficacy_umol_j: Annotated[float, Field(gt=0, le=5)] | None = None
    height_m: Length | None = None
    hours: Annotated[float, Field(ge=0, le=24)] | None = None


class WaterPart(_Part):
    source: Literal["tap", "softened", "reverse-osmosis", "rain", "well", "bottled"] = "tap"
    alkalinity_mg_l: Annotated[float, Field(ge=0, le=2000)] | None = None
    ec_ms_cm: Annotated[float, Field(ge=0, le=20)] | None = None
    ph: Annotated[float, Field(ge=0, le=14)] | None = None
    sodium_mg_l: Annotated[float, Field(ge=0, le=20000)] | None = None
    chloride_mg_l: Annotated[float, Field(ge=0, le=20000)] | None = None


class FeedPart(_Part):
    product: Annotated[str, Field(min_length=1, max_length=120), _STORABLE]
    ml_per_l: Annotated[float, Field(ge=0, le=1000)] | None = None


class GardenPart(_Part):
    name: ShortName | None = None
    space: SpacePart | None = None
    lamps: Annotated[tuple[LampPart, ...], Field(max_length=50, strict=False)] = ()
    water: WaterPart | None = None
    feed: Annotated[tuple[FeedPart, ...], Field(max_length=50, strict=False)] = ()


class PlantingPart(_Part):
    crop: Annotated[str, Field(min_length=1, max_length=60), _STORABLE]
    profile: Code | None = None
    stage: Code | None = None
    system: Code | None = None
    medium: Code | None = None
    container_l: Annotated[float, Field(gt=0, le=100_000)] | None = None
    reservoir_l: Annotated[float, Field(gt=0, le=1_000_000)] | None = None
    plants: Annotated[int, Field(ge=1, le=100_000)] | None = None
    watering_interval_days: Annotated[float, Field(gt=0, le=60)] | None = None
    watering_volume_l: Annotated[float, Field(ge=0, le=1000)] | None = None


class Expected(_Part):
    """For reference cases only; the ranking never reads it."""

    causes: Codes = ()
    source: Annotated[str, Field(max_length=600)] = ""


class CaseFile(_Part):
    """One case. Everything but `case_file` and `planting.crop` may be left out."""

    case_file: Literal[1]
    grower: GrowerPart = GrowerPart()
    garden: GardenPart = GardenPart()
    planting: PlantingPart
    story: Annotated[str, Field(max_length=8000), _STORABLE] = ""
    present: Codes = ()
    absent: Codes = ()
    onset_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    readings: dict[Code, float] = {}
    practices: Codes = ()
    expected: Expected | None = None

    def profile_code(self, reference: Reference) -> str:
        """The crop profile the readings are judged by: the crop's own, else the generic one named."""
        return self.planting.crop if self.planting.crop in reference.crops else self.planting.profile or ""


def parse_case_file(text: str, reference: Reference, ruleset: Ruleset) -> CaseFile:
    """Return the checked case in a JSON text.

    Raises CaseFileError with every problem found, each naming the field and what is allowed there.
    """
    try:
        data = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_refuse_twice)
    except RecursionError:
        raise CaseFileError([Problem("file", "It is nested too deeply to be a case file.")]) from None
    except json.JSONDecodeError as error:
        message = f"It is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
        raise CaseFileError([Problem("file", message)]) from None
    except CaseFileError:
        raise
    except ValueError:
        # Python refuses whole numbers of more than 4300 digits.
        message = "It holds a number with thousands of digits, which no meter shows. Correct it."
        raise CaseFileError([Problem("file", message)]) from None
    if not isinstance(data, dict):
        raise CaseFileError([Problem("file", "A case file is one JSON object, in braces { }.")])
    try:
        case = CaseFile.model_validate(data)
    except ValidationError as error:
        raise CaseFileError(_shape_problems(error)) from None
    check_codes(case, reference, ruleset)
    return case


def read_case_file(path: Path, reference: Reference, ruleset: Ruleset) -> CaseFile:
    """Return the checked case in a file; raises CaseFileError, also when it cannot be read."""
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise CaseFileError([Problem("file", f"It cannot be read: {error.strerror}.")]) from None
    if len(raw) > MAX_BYTES:
        raise CaseFileError(
            [Problem("file", "It is larger than 1 MB. A case file holds words and numbers only.")]
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise CaseFileError(
            [Problem("file", "It is not text in UTF-8. Save it as UTF-8 and try again.")]
        ) from None
    return parse_case_file(text, reference, ruleset)


def check_codes(case: CaseFile, reference: Reference, ruleset: Ruleset) -> None:
    """Raise CaseFileError when a code is unknown, a reading impossible, a finding in both lists."""
    problems = list(_code_problems(case, reference, ruleset))
    if problems:
        raise CaseFileError(problems)


def unknown_code(code: str, known: Iterable[str], what: str, command: str = "manage.py vocabulary") -> str:
    """A sentence saying that a code is unknown, with the nearest spellings or where to find the list."""
    near = difflib.get_close_matches(code, list(known), n=3, cutoff=0.6)
    hint = f"Did you mean {', '.join(near)}?" if near else f"`{command}` lists them."
    return f'There is no {what} "{code}". {hint}'


def reading_problem(code: str, value: float, reference: Reference) -> str | None:
    """A sentence when the value is physically impossible for the reading, else None."""
    reading = reference.readings[code]
    if reading.min <= value <= reading.max:
        return None
    return (
        f"{value:g} {reading.unit} is not possible for {reading.name['en']}. "
        f"It must lie from {reading.min:g} to {reading.max:g}. Check the number and its unit."
    )


def _code_problems(case: CaseFile, reference: Reference, ruleset: Ruleset) -> Iterator[Problem]:
    planting = case.planting
    if planting.crop not in reference.crops and planting.profile is None:
        profiles = ", ".join(f'"{code}"' for code in reference.profiles)
        message = f'There is no profile for the crop "{planting.crop}". Name the nearest one: {profiles}.'
        yield Problem("planting.profile", message)
    places: list[tuple[str, str | None, Mapping[str, Any], str]] = [
        ("planting.profile", planting.profile, reference.profiles, "profile"),
        ("planting.stage", planting.stage, reference.stages, "stage"),
        ("planting.system", planting.system, reference.systems, "growing system"),
        ("planting.medium", planting.medium, reference.media, "medium"),
        *(
            (f"garden.lamps.{i}.type", lamp.type, reference.lamps, "lamp type")
            for i, lamp in enumerate(case.garden.lamps)
        ),
        *((f"present.{i}", code, ruleset.findings, "finding") for i, code in enumerate(case.present)),
        *((f"absent.{i}", code, ruleset.findings, "finding") for i, code in enumerate(case.absent)),
        *((f"practices.{i}", code, ruleset.practices, "practice") for i, code in enumerate(case.practices)),
    ]
    for field, value, known, what in places:
        if value is not None and value not in known:
            yield Problem(field, unknown_code(value, known, what))
    for code in sorted(set(case.present) & set(case.absent)):
        yield Problem("absent", f'"{code}" stands under present and under absent. Keep one of them.')
    for code, amount in case.readings.items():
        definition = reference.readings.get(code)
        if definition is None or definition.derived:
            measured = [c for c, r in reference.readings.items() if not r.derived]
            yield Problem(f"readings.{code}", unknown_code(code, measured, "reading"))
        elif (impossible := reading_problem(code, amount, reference)) is not None:
            yield Problem(f"readings.{code}", impossible)


def _shape_problems(error: ValidationError) -> Iterator[Problem]:
    for item in error.errors(include_url=False):
        field = ".".join(str(step) for step in item["loc"]) or "file"
        yield Problem(
            field, _shape_message(item["type"], item.get("ctx", {}), item.get("input"), item["msg"])
        )


def _shape_message(kind: str, context: dict[str, Any], found: object, fallback: str) -> str:
    shown = repr(found) if len(repr(found)) <= 40 else repr(found)[:37] + "…"
    sentences = {
        "extra_forbidden": "This field is not known here. Remove it or check its spelling.",
        "missing": "This field is needed.",
        "float_type": f"{shown} is not a number. Write a number without a unit.",
        "int_type": f"{shown} is not a whole number.",
        "finite_number": "It must be a finite number.",
        "string_unicode": "The text holds a broken character. Write it anew.",
        "string_type": f"{shown} is not a text. Put it in quotation marks.",
        "string_too_long": f"The text is too long: at most {context.get('max_length')} characters.",
        "string_too_short": "The text must not be empty.",
        "string_pattern_mismatch": f"{shown} has the wrong form. An email looks like name@example.org.",
        "literal_error": f"{shown} is not allowed. Use one of {context.get('expected')}.",
        "greater_than": f"{shown} is too small: it must be above {context.get('gt')}.",
        "greater_than_equal": f"{shown} is too small: it must be at least {context.get('ge')}.",
        "less_than": f"{shown} is too large: it must be below {context.get('lt')}.",
        "less_than_equal": f"{shown} is too large: it must be at most {context.get('le')}.",
        "too_long": f"There are too many entries: at most {context.get('max_length')}.",
        "tuple_type": f"{shown} is not a list. Put the entries in square brackets [ ].",
        "dict_type": f"{shown} is not an object. Put the entries in braces {{ }}.",
        "model_type": f"{shown} is not an object. Put the entries in braces {{ }}.",
    }
    return sentences.get(kind, fallback)


def _refuse_constant(name: str) -> float:
    raise CaseFileError([Problem("file", f"{name} is not a number a case file may hold.")])


def _refuse_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise CaseFileError([Problem(key, "This field stands there twice. Keep one of them.")])
        found[key] = value
    return found
