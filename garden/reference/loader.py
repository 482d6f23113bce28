"""Loads and cross-checks the reference data that stands beside this file."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from garden.agronomy.errors import UnitError
from garden.agronomy.units import check_unit
from garden.reference.files import ReferenceDataError, build, build_list, read_yaml
from garden.reference.schema import (
    NO_SOURCE,
    AcidCaution,
    AcidGrade,
    Band,
    Crop,
    Element,
    Lamp,
    Medium,
    Reading,
    Reference,
    Salt,
    Solid,
    Source,
    Stage,
    System,
    TargetRecipe,
    WaterLimit,
    text,
)

__all__ = [
    "Reference",
    "ReferenceDataError",
    "bundled_reference",
    "check_all",
    "load_crop",
    "load_folder",
    "load_reference",
    "name_of_crop",
    "text",
    "using_reference",
]

_HERE = Path(__file__).parent
_KINDS = (
    "crops", "profiles", "stages", "systems", "media", "lamps", "readings", "sources", "salts", "acids",
    "acid_cautions", "elements", "recipes", "water_limits", "solids",
)  # fmt: skip
_Sourced = TypeVar("_Sourced", Salt, AcidGrade, AcidCaution, Element, TargetRecipe, WaterLimit, Solid)


_in_use: ContextVar[Reference | None] = ContextVar("reference_in_use", default=None)


def load_reference() -> Reference:
    """Return the reference data in use: what `using_reference` set around the caller, else the bundled data.

    The answer may differ from one call to the next, so nothing computed from its crops may be cached for
    longer than a request. Raises ReferenceDataError when the bundled data cannot be used.
    """
    return _in_use.get() or bundled_reference()


@cache
def bundled_reference() -> Reference:
    """Return the bundled reference data, read and checked once per process.

    Raises ReferenceDataError, in one sentence naming file, entry and field, when the data cannot be used.
    """
    return load_folder(_HERE)


@contextmanager
def using_reference(reference: Reference) -> Iterator[None]:
    """Return a context in which `load_reference` gives `reference`, in this thread or task only."""
    token = _in_use.set(reference)
    try:
        yield
    finally:
        _in_use.reset(token)


def name_of_crop(crop: str, lang: str = "en") -> str:
    """Return the name of a crop for people: of a known code its name, of anything else what was typed."""
    known = load_reference().crops.get(crop)
    return text(known.name, lang) if known else crop


def check_all() -> dict[str, int]:
    """Return how many entries of each kind the bundled data holds, after reading and checking it afresh."""
    reference = load_folder(_HERE)
    counts = {kind: len(getattr(reference, kind)) for kind in _KINDS}
    counts["bands"] = sum(1 for crop in _read_crops(_HERE / "crops").values() for _ in _all_bands(crop))
    return counts


def load_folder(folder: Path) -> Reference:
    """Return the reference data of a folder laid out like this one; raises ReferenceDataError."""

    def listed(name: str) -> object:
        return read_yaml(folder / name)

    sources = build_list(Source, listed("sources.yaml"), "sources.yaml", key="id")
    readings = build_list(Reading, listed("readings.yaml"), "readings.yaml")
    stages = build_list(Stage, listed("stages.yaml"), "stages.yaml")
    systems = build_list(System, listed("systems.yaml"), "systems.yaml")
    media = build_list(Medium, listed("media.yaml"), "media.yaml")
    lamps = build_list(Lamp, listed("lamps.yaml"), "lamps.yaml")
    _check_readings(readings)
    for medium in media.values():
        _check_source(medium.source, sources, "media.yaml", medium.code, "source")
    for lamp in lamps.values():
        _check_source(lamp.source, sources, "lamps.yaml", lamp.code, "source")
        if lamp.lux_source is not None:
            _check_source(lamp.lux_source, sources, "lamps.yaml", lamp.code, "lux_source")
    crops = _read_crops(folder / "crops")
    for crop in crops.values():
        _check_crop(crop, f"crops/{crop.code}.yaml", crops, readings, stages, sources)
    profiles = {code: crop for code, crop in crops.items() if crop.is_profile}
    complete = {
        code: crop.with_fallback(profiles[crop.profile_of]) if crop.profile_of else crop
        for code, crop in crops.items()
    }
    return Reference(
        crops=MappingProxyType(complete),
        stages=MappingProxyType(stages),
        systems=MappingProxyType(systems),
        media=MappingProxyType(media),
        lamps=MappingProxyType(lamps),
        readings=MappingProxyType(readings),
        profiles=MappingProxyType(profiles),
        sources=MappingProxyType(sources),
        salts=_sourced(Salt, folder / "salts.yaml", sources),
        acids=_sourced(AcidGrade, folder / "acids.yaml", sources),
        acid_cautions=_sourced(AcidCaution, folder / "acid_cautions.yaml", sources),
        elements=_sourced(Element, folder / "elements.yaml", sources),
        recipes=_sourced(TargetRecipe, folder / "recipes.yaml", sources),
        water_limits=_sourced(WaterLimit, folder / "water_limits.yaml", sources),
        solids=_sourced(Solid, folder / "solids.yaml", sources),
    )


def load_crop(raw: object, *, file: str, base: Crop, reference: Reference) -> Crop:
    """Return a crop that no bundled file holds, read and checked as those are, completed by `base`.

    `file` is what the error calls the place it was written in. Raises ReferenceDataError, in one sentence
    naming file, entry and field: the same as for a bundled file that says the same.
    """
    entry = str(raw.get("code", "-")) if isinstance(raw, dict) else "-"
    crop = build(Crop, raw, file, entry)
    _check_crop(crop, file, reference.crops, reference.readings, reference.stages, reference.sources)
    return crop.with_fallback(base)


def _sourced(model: type[_Sourced], path: Path, sources: Mapping[str, Source]) -> Mapping[str, _Sourced]:
    entries = build_list(model, read_yaml(path), path.name)
    for entry in entries.values():
        _check_source(entry.source, sources, path.name, entry.code, "source")
    return MappingProxyType(entries)


def _read_crops(folder: Path) -> dict[str, Crop]:
    crops: dict[str, Crop] = {}
    for path in sorted(folder.glob("*.yaml")):
        name = f"crops/{path.name}"
        crop = build(Crop, read_yaml(path), name, path.stem)
        if crop.code != path.stem:
            raise ReferenceDataError(
                name, path.stem, "code", f"found {crop.code!r}; it must be the file's name"
            )
        crops[crop.code] = crop
    return crops


def _check_readings(readings: Mapping[str, Reading]) -> None:
    for reading in readings.values():
        for field, unit in (("unit", reading.unit), ("us_unit", reading.us_unit)):
            if unit is None:
                continue
            try:
                check_unit(unit, expected=reading.unit)
            except UnitError as error:
                raise ReferenceDataError("readings.yaml", reading.code, field, str(error)) from error


def _check_crop(
    crop: Crop,
    file: str,
    crops: Mapping[str, Crop],
    readings: Mapping[str, Reading],
    stages: Mapping[str, Stage],
    sources: Mapping[str, Source],
) -> None:
    if crop.profile_of is not None:
        profile = crops.get(crop.profile_of)
        if profile is None or not profile.is_profile:
            names = ", ".join(code for code, other in crops.items() if other.is_profile)
            problem = f"found {crop.profile_of!r}; the generic profiles are {names}"
            raise ReferenceDataError(file, crop.code, "profile_of", problem)
    for stage in crop.stages:
        if stage not in stages:
            problem = f"no such stage in stages.yaml; the stages are {', '.join(stages)}"
            raise ReferenceDataError(file, crop.code, f"stages.{stage}", problem)
    for field, code, band in _all_bands(crop):
        if code not in readings:
            raise ReferenceDataError(file, crop.code, field, "no such reading in readings.yaml")
        _check_limits(band, readings[code], file, crop.code, field)
        _check_source(band.source, sources, file, crop.code, f"{field}.source")


def _all_bands(crop: Crop) -> Iterator[tuple[str, str, Band]]:
    for code, band in crop.bands.items():
        yield f"bands.{code}", code, band
    for stage, special in crop.stages.items():
        for code, band in special.bands.items():
            yield f"stages.{stage}.bands.{code}", code, band


def _check_limits(band: Band, reading: Reading, file: str, entry: str, field: str) -> None:
    for edge, value in (("wide_low", band.wide_low), ("wide_high", band.wide_high)):
        if not reading.min <= value <= reading.max:
            problem = (
                f"found {value:g}; it must lie within the physical limits of {reading.code}, "
                f"{reading.min:g} to {reading.max:g} {reading.unit}"
            )
            raise ReferenceDataError(file, entry, f"{field}.{edge}", problem)


def _check_source(source: str, sources: Mapping[str, Source], file: str, entry: str, field: str) -> None:
    if source != NO_SOURCE and source not in sources:
        problem = f"found {source!r}; it must be an id of sources.yaml or “{NO_SOURCE}”"
        raise ReferenceDataError(file, entry, field, problem)
