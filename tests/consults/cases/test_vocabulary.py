"""What the rules and the reference data list can be recorded: on the case page and in a case file."""

import pytest
from django.urls import reverse

from consults.cases.forms import PARTS, PLACES, part_of
from consults.cases.ranking import rank_case
from consults.ruleset.loader import load_bundled
from garden.access import Role
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile
from tests.factories import client_of, make_case, make_planting

TYPED = [code for code, reading in load_reference().readings.items() if not reading.derived]


def test_every_finding_and_reading_has_a_heading_to_stand_under() -> None:
    assert {part_of(finding) for finding in load_bundled().findings.values()} <= set(PARTS)
    assert {reading.place for reading in load_reference().readings.values()} <= set(PLACES)


@pytest.mark.django_db
def test_the_case_page_asks_for_every_reading_and_practice() -> None:
    case = make_case(make_planting(crop="pepper"))
    page = client_of(Role.CONSULTANT).get(reverse("case", args=[case.pk])).content.decode()
    for code in TYPED:
        assert page.count(f'name="{code}-value"') == 1, code
    for code in load_bundled().practices:
        assert page.count(f'value="{code}"') == 1, code


def test_a_case_file_may_hold_every_finding_practice_and_reading() -> None:
    rules, readings = load_bundled(), load_reference().readings
    middle = {code: (readings[code].usual_min + readings[code].usual_max) / 2 for code in TYPED}
    case = casefile(present=sorted(rules.findings), practices=sorted(rules.practices), readings=middle)
    assert set(case.readings) == set(TYPED)


@pytest.mark.parametrize(
    ("reading", "value", "condition"),
    [
        ("water_boron_mg_l", 1.2, "water-boron-high"),
        ("water_chlorine_mg_l", 2.0, "water-chlorine-high"),
        ("rh_percent", 97.0, "rh-very-high"),
        ("dli_mol_m2_d", 3.0, "dli-very-low"),
    ],
)
def test_a_reading_beyond_the_limit_is_judged_so(reading: str, value: float, condition: str) -> None:
    # Daily light is computed: 3 mol in 10 hours.
    given = (
        {"ppfd_umol_m2_s": value / 0.036, "photoperiod_h": 10.0}
        if reading.startswith("dli")
        else {reading: value}
    )
    ranking = rank_case(casefile(readings=given), load_bundled(), load_reference())
    assert ranking.conditions[condition] is True
