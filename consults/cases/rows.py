"""Case files from rows and rows from case files: the two are the same case in two shapes."""

import hashlib
import re
from typing import Any

from django.db import transaction
from django.utils import timezone

from consults.cases.casefile import EMAIL, CaseFile
from consults.choices import Seen
from consults.models import Case, CaseFinding, CasePractice
from garden.models import Feed, Garden, Grower, Lamp, Planting, Reading, Space, Staff, WaterSource
from garden.reference.loader import load_reference


def casefile_from_rows(case: Case) -> CaseFile:
    """The case file of a case; a fixed number of queries, and none when all of it was fetched beforehand."""
    planting = case.planting
    garden = planting.space.garden
    findings = list(case.findings.all())
    readings: dict[str, float] = {}
    for reading in sorted(case.readings.all(), key=lambda reading: (reading.taken_at, reading.pk)):
        readings[reading.quantity] = reading.value
    content: dict[str, Any] = {
        "case_file": 1,
        "grower": _some(
            name=case.grower.name,
            email=_plain_email(case.grower.email),
            phone=case.grower.phone,
            units=case.grower.units,
        ),
        "garden": _garden(garden, planting.space),
        "planting": _planting(planting),
        "story": case.story,
        "present": sorted(f.code for f in findings if f.state == Seen.PRESENT),
        "absent": sorted(f.code for f in findings if f.state == Seen.ABSENT),
        "practices": sorted(practice.code for practice in case.practices.all()),
        "readings": readings,
    }
    if case.onset_days is not None:
        content["onset_days"] = case.onset_days
    return CaseFile.model_validate(content)


def _plain_email(address: str) -> str:
    """The address, unless it is one of the rare forms (quoted, by number) that a case file does not carry."""
    return address if re.match(EMAIL, address) else ""


def _some(**values: Any) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value not in (None, "")}


def _fields(row: Any, *names: str) -> dict[str, Any]:
    return _some(**{name: getattr(row, name) for name in names})


def _garden(garden: Garden, space: Space) -> dict[str, Any]:
    content: dict[str, Any] = _some(name=garden.name)
    content["space"] = _fields(space, "kind", "length_m", "width_m", "height_m")
    content["lamps"] = [
        _fields(lamp, "type", "count", "photon_flux_umol_s", "watts", "efficacy_umol_j", "height_m", "hours")
        for lamp in space.lamps.all()
    ]
    water = next(iter(garden.waters.all()), None)
    if water is not None:
        content["water"] = _fields(
            water, "source", "alkalinity_mg_l", "ec_ms_cm", "ph", "sodium_mg_l", "chloride_mg_l"
        )
    content["feed"] = [_fields(feed, "product", "ml_per_l") for feed in garden.feeds.all()]
    return content


def _planting(planting: Planting) -> dict[str, Any]:
    content = _fields(
        planting, "crop", "profile", "stage", "system", "medium", "container_l", "reservoir_l", "plants",
        "watering_interval_days", "watering_volume_l",
    )  # fmt: skip
    crop = load_reference().crops.get(content["crop"])
    if crop is None:
        # A crop without a profile that was never given one is judged as a leafy crop.
        content.setdefault("profile", "generic-leafy")
    elif crop.kind_of and crop.profile_of:
        # A shop's own crop profile is not known elsewhere: the file names what to judge it by there.
        content.setdefault("profile", crop.profile_of)
    return content


@transaction.atomic
def case_import(*, casefile: CaseFile, by: Staff | None = None, consent: bool = False) -> Case:
    """Rows for a case file: grower, garden, planting, case. `consent`: the grower agreed to be emailed.

    The same case file again is the same case: it is found by its content, not entered twice.
    """
    key = hashlib.sha256(casefile.model_dump_json().encode()).hexdigest()
    known = Case.objects.filter(import_key=key).first()
    if known is not None:
        if consent and known.grower.email and not known.grower.may_be_emailed:
            known.grower.email_consent_at = timezone.now()
            known.grower.save(update_fields=["email_consent_at"])
        return known
    part = casefile.grower
    grower = Grower.objects.create(
        name=part.name or "Walk-in",
        email=part.email or "",
        phone=part.phone or "",
        units=part.units,
        email_consent_at=timezone.now() if consent and part.email else None,
    )
    planting = _import_garden(casefile, grower)
    case = Case.objects.create(
        grower=grower,
        planting=planting,
        story=casefile.story,
        onset_days=casefile.onset_days,
        opened_by=by,
        import_key=key,
    )
    _import_findings(case, casefile)
    _import_readings(case, casefile, by)
    return case


def _import_findings(case: Case, casefile: CaseFile) -> None:
    states = dict.fromkeys(casefile.present, Seen.PRESENT) | dict.fromkeys(casefile.absent, Seen.ABSENT)
    CaseFinding.objects.bulk_create([CaseFinding(case=case, code=c, state=s) for c, s in states.items()])
    CasePractice.objects.bulk_create(
        [CasePractice(case=case, code=code) for code in dict.fromkeys(casefile.practices)]
    )


def _import_readings(case: Case, casefile: CaseFile, by: Staff | None) -> None:
    definitions = load_reference().readings
    readings = Reading.objects.bulk_create(
        [
            Reading(
                planting=case.planting,
                quantity=code,
                value=value,
                typed=f"{value:g}",
                unit=definitions[code].unit,
                unusual=not definitions[code].usual_min <= value <= definitions[code].usual_max,
                entered_by=by,
            )
            for code, value in casefile.readings.items()
        ]
    )
    case.readings.add(*readings)


def _import_garden(casefile: CaseFile, grower: Grower) -> Planting:
    part, planting = casefile.garden, casefile.planting
    garden = Garden.objects.create(grower=grower, name=part.name or "")
    space = Space.objects.create(
        garden=garden, **(part.space.model_dump() if part.space is not None else {"kind": "room"})
    )
    Lamp.objects.bulk_create([Lamp(space=space, **lamp.model_dump()) for lamp in part.lamps])
    if part.water is not None:
        WaterSource.objects.create(garden=garden, **part.water.model_dump())
    Feed.objects.bulk_create([Feed(garden=garden, **feed.model_dump()) for feed in part.feed])
    stage = load_reference().stages[planting.stage] if planting.stage else None
    values = {key: value for key, value in planting.model_dump().items() if value is not None}
    return Planting.objects.create(
        space=space, bbch_principal=stage.bbch_principal[0] if stage else None, **values
    )
