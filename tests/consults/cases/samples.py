"""Case files of our own invention for these tests, and the bundled ones."""

import json
from pathlib import Path
from typing import Any

import consults.ruleset
from consults.cases.casefile import CaseFile, CaseFileError, parse_case_file
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference

BUNDLED = sorted((Path(consults.ruleset.__file__).parent / "cases").glob("*.json"))


def content(**parts: Any) -> dict[str, Any]:
    """A case file as plain data: basil, and what is given; `planting` adds to the crop."""
    planting = {"crop": "basil", **parts.pop("planting", {})}
    return {"case_file": 1, "planting": planting, **parts}


def parse(text: str) -> CaseFile:
    return parse_case_file(text, load_reference(), load_bundled())


def casefile(**parts: Any) -> CaseFile:
    return parse(json.dumps(content(**parts)))


def problems(given: str | dict[str, Any]) -> dict[str, str]:
    """The messages a case file is refused with, by field; nothing when it is accepted."""
    try:
        parse(given if isinstance(given, str) else json.dumps(given))
    except CaseFileError as error:
        return {problem.field: problem.message for problem in error.problems}
    return {}


FULL: dict[str, Any] = {
    "case_file": 1,
    "grower": {"name": "Nela Quist", "email": "nela@home.example", "phone": "+1 555 0177", "units": "us"},
    "garden": {
        "name": "Attic",
        "space": {"kind": "shelf", "length_m": 1.2, "width_m": 0.5, "height_m": 0.6},
        "lamps": [
            {
                "type": "led-white",
                "count": 2,
                "watts": 60,
                "efficacy_umol_j": 2.5,
                "height_m": 0.3,
                "hours": 15,
            },
            {"type": "fluorescent", "photon_flux_umol_s": 40, "hours": 12},
        ],
        "water": {
            "source": "well",
            "alkalinity_mg_l": 210,
            "ec_ms_cm": 0.7,
            "ph": 7.9,
            "sodium_mg_l": 31,
            "chloride_mg_l": 44,
        },
        "feed": [{"product": "Part A", "ml_per_l": 2.5}, {"product": "Part B"}],
    },
    "planting": {
        "crop": "okra",
        "profile": "generic-fruiting",
        "stage": "flowering",
        "system": "drip-to-waste",
        "medium": "coco",
        "container_l": 6,
        "reservoir_l": 40,
        "plants": 5,
        "watering_interval_days": 0.5,
        "watering_volume_l": 0.35,
    },
    "story": 'Die Blätter hängen — "limp", they say. 🌱',
    "present": ["tip-necrosis", "interveinal-chlorosis-young"],
    "absent": ["fungus-gnats"],
    "onset_days": 4,
    "readings": {"root_zone_ph": 6.9, "air_temp_c": 24.5, "rh_percent": 40},
    "practices": ["waters-daily"],
}
