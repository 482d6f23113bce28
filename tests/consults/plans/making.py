"""A case with something to do about it, and plans of it."""

from typing import Any

from consults.cases.rows import case_import
from consults.models import Case, Plan
from consults.plans.services import plan_draft, plan_issue
from garden.models import Staff
from tests.consults.cases.samples import casefile
from tests.factories import make_staff

POTS: dict[str, Any] = {
    "grower": {"name": "Nela Quist", "email": "nela@home.example"},
    "garden": {
        "space": {"kind": "tent", "length_m": 1.5, "width_m": 0.9},
        "lamps": [{"type": "led-white", "photon_flux_umol_s": 320, "height_m": 0.4, "hours": 16}],
    },
    "planting": {
        "crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot", "medium": "peat-perlite",
        "container_l": 7.5, "plants": 6, "watering_interval_days": 1, "watering_volume_l": 0.8,
    },
    "story": "They droop although the soil is wet.",
    "present": ["medium-stays-wet", "wilting-medium-moist", "chlorosis-uniform-older"],
    "absent": ["pests-on-leaves"],
    "readings": {"root_zone_ph": 6.9, "air_temp_c": 24, "rh_percent": 62},
    "practices": ["waters-daily"],
}  # fmt: skip
CAUSES = ["overwatering", "high-root-zone-ph"]


def make_wet_case(*, consent: bool = False, **parts: Any) -> Case:
    """Six peppers watered daily. `parts` stand in for parts of the case file."""
    return Case.objects.get(pk=case_import(casefile=casefile(**{**POTS, **parts}), consent=consent).pk)


def make_draft(case: Case | None = None, by: Staff | None = None, causes: list[str] | None = None) -> Plan:
    return plan_draft(case=case or make_wet_case(), causes=causes or CAUSES, by=by or make_staff())


def make_issued(case: Case | None = None, by: Staff | None = None, *, send_email: bool = False) -> Plan:
    by = by or make_staff()
    return plan_issue(plan=make_draft(case, by), by=by, send_email=send_email)
