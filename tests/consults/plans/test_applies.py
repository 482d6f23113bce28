"""Which actions of the bundled rules a case is offered: none that makes no sense there, never too few.

What must not be offered where follows from what the words mean: nothing can be drained that has no tank, and
no pot can be lifted where there is none. The counts and the list of checks are judgement.
"""

from typing import Any

import pytest

from consults.cases.facts import Facts, gather
from consults.plans.building import applies
from consults.ruleset.loader import load_bundled
from consults.ruleset.schema import Cause
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile
from tests.consults.plans.making import POTS

RULES, REFERENCE = load_bundled(), load_reference()
ACTIONS = {action.code: action for cause in RULES.causes.values() for action in cause.actions}
CHECKS = {
    "check-roots", "check-ph", "check-ec", "test-alkalinity", "measure-light", "log-min-max",
    "bag-test", "potato-test", "tap-shoots", "tomato-test",
}  # fmt: skip
POT_ACTIONS = {
    "let-pot-dry", "rewet-dry-pot", "water-more", "water-to-runoff", "leach-pot", "raise-pot", "empty-saucer",
    "pot-up-one-size", "loosen-roots", "coarser-mix-next-time", "even-moisture", "dry-surface", "turn-pots",
    "refresh-root-zone", "magnesium-drench", "plant-deeper", "potato-test", "water-morning",
}  # fmt: skip
TANK_ACTIONS = {
    "restart-air-pump", "cool-reservoir", "lower-water-level", "change-solution", "dilute-reservoir",
    "top-up-plain-water", "clean-between-crops", "roots-into-solution",
}  # fmt: skip
RARE = 0.25  # a cause that a system makes four times rarer or more is not looked for there


def facts(**parts: Any) -> Facts:
    return gather(casefile(**parts), REFERENCE)


def offered(given: Facts, cause: str | None = None) -> list[str]:
    """Codes of the actions of one cause, or of all, that apply."""
    actions = RULES.causes[cause].actions if cause else ACTIONS.values()
    return [action.code for action in actions if applies(action, given)]


def occurs_in(cause: Cause, system: str) -> bool:
    factor = 1.0
    for part in cause.prior_factors:
        if part.systems == () or system not in part.systems:
            continue
        factor *= part.factor
    return factor > RARE


PLACES = [
    (cause.code, system)
    for cause in RULES.causes.values()
    for system in REFERENCE.systems
    if occurs_in(cause, system)
]


@pytest.mark.parametrize("system", ["raft", "deep-water", "nft"])
def test_where_roots_hang_in_solution_no_pot_is_lifted_watered_or_rinsed(system: str) -> None:
    found = set(offered(facts(planting={"system": system, "medium": "water-only"})))
    assert not found & POT_ACTIONS
    assert not [code for code in found if "Stop watering" in ACTIONS[code].text["en"]]
    assert found >= TANK_ACTIONS - {"lower-water-level"}


def test_only_deep_water_can_be_lowered_since_a_raft_sinks_with_it() -> None:
    assert "lower-water-level" in offered(facts(planting={"system": "deep-water"}))
    assert "lower-water-level" not in offered(facts(planting={"system": "raft"}))


@pytest.mark.parametrize("system", ["hand-watered-pot", "drip-to-waste", "propagation-tray", "wick-pot"])
def test_where_there_is_no_tank_none_is_drained_cooled_or_aired(system: str) -> None:
    found = set(offered(facts(planting={"system": system})))
    assert not found & TANK_ACTIONS
    assert {"let-pot-dry", "leach-pot", "rewet-dry-pot"} <= found


def test_a_pot_fed_from_a_tank_is_offered_both() -> None:
    found = set(offered(facts(planting={"system": "wick-pot", "reservoir_l": 20})))
    assert {"change-solution", "let-pot-dry"} <= found


def test_what_is_not_known_is_offered() -> None:
    found = set(offered(facts()))
    assert found >= (POT_ACTIONS | TANK_ACTIONS | CHECKS) - {"plant-deeper"}


@pytest.mark.parametrize(
    ("reading", "low", "inside", "high", "when_low", "when_high"),
    [
        ("feed_ph", 4.5, 6.0, 7.5, {"raise-ph"}, {"lower-ph"}),
        ("feed_ec_ms_cm", 0.3, 1.5, 4.0, {"feed-stronger", "start-feeding-seedlings"}, {"feed-weaker"}),
        ("air_temp_c", 5, 23, 38, set(), {"vent-hot-air", "run-lamp-at-night"}),
        ("night_temp_c", 3, 18, 27, {"warm-night"}, set()),
        ("root_zone_temp_c", 8, 21, 32, {"warm-root-zone"}, {"cool-reservoir"}),
        ("rh_percent", 15, 65, 98, {"humidify-air", "group-plants"}, {"dry-air"}),
        (
            "ppfd_umol_m2_s", 20, 260, 1200,
            {"lower-lamp", "brighten-lamp", "stronger-lamp"}, {"raise-lamp", "dim-lamp"},
        ),
        ("water_alkalinity_mg_l", 10, 80, 300, set(), {"blend-rainwater", "treat-alkalinity"}),
    ],
)  # fmt: skip
def test_a_reading_inside_its_range_asks_for_no_correction_and_one_outside_for_the_right_one(
    reading: str, low: float, inside: float, high: float, when_low: set[str], when_high: set[str]
) -> None:
    both = when_low | when_high

    def corrections(**parts: Any) -> set[str]:
        return both & set(offered(facts(planting={"stage": "vegetative"}, **parts)))

    assert corrections() == both, "not measured, both are offered"
    assert corrections(readings={reading: inside}) == set()
    assert corrections(readings={reading: low}) == when_low
    assert corrections(readings={reading: high}) == when_high


@pytest.mark.parametrize(
    ("parts", "check"),
    [
        ({"readings": {"water_alkalinity_mg_l": 140}}, "test-alkalinity"),
        ({"garden": {"water": {"source": "tap", "alkalinity_mg_l": 140}}}, "test-alkalinity"),
        ({"readings": {"feed_ph": 6.0}}, "check-ph"),
        ({"readings": {"root_zone_ph": 6.9}}, "check-ph"),
        ({"readings": {"runoff_ec_ms_cm": 2.0}}, "check-ec"),
        ({"readings": {"ppfd_umol_m2_s": 60}}, "measure-light"),
        ({"readings": {"night_temp_c": 12}}, "log-min-max"),
        ({"present": ["roots-brown-soft"]}, "check-roots"),
        ({"absent": ["roots-brown-soft"]}, "check-roots"),
        ({"present": ["roots-white-firm"]}, "check-roots"),
        ({"present": ["fungus-gnats"]}, "potato-test"),
        ({"present": ["grey-down-underside"]}, "bag-test"),
    ],
)
def test_a_check_that_is_answered_is_not_asked_again(parts: dict[str, Any], check: str) -> None:
    assert check in offered(facts())
    assert check not in offered(facts(**parts))


@pytest.mark.parametrize(
    ("action", "practice"),
    [
        ("bypass-softener", "softened-water"),
        ("remove-lime-source", "lime-in-medium"),
        ("lamp-back", "lamp-moved-closer"),
        ("lamp-back", "lamp-stronger"),
    ],
)
def test_what_only_follows_from_a_habit_is_offered_when_the_grower_has_it(action: str, practice: str) -> None:
    assert action not in offered(facts())
    assert action in offered(facts(practices=[practice]))


@pytest.mark.parametrize(
    ("action", "fits", "not_there"),
    [
        ("soak-rockwool", {"medium": "rockwool"}, {"medium": "coco"}),
        ("check-drippers", {"system": "drip-to-waste"}, {"system": "hand-watered-pot"}),
        ("pause-automatic-water", {"system": "drip-to-waste"}, {"system": "hand-watered-pot"}),
        ("plant-deeper", {"crop": "tomato"}, {"crop": "lettuce"}),
        ("resow-leggy", {"crop": "lettuce", "stage": "seedling"}, {"crop": "tomato", "stage": "seedling"}),
        ("lift-dome", {"stage": "seedling"}, {"stage": "fruiting"}),
        ("fruiting-feed", {"crop": "tomato", "stage": "fruiting"}, {"stage": "seedling"}),
    ],
)
def test_what_belongs_to_one_crop_stage_medium_or_system_is_offered_there_alone(
    action: str, fits: dict[str, str], not_there: dict[str, str]
) -> None:
    assert action in offered(facts(planting=fits))
    assert action not in offered(facts(planting=not_there))


@pytest.mark.parametrize(("cause", "system"), PLACES)
def test_a_cause_keeps_two_things_to_do_in_every_system_it_occurs_in(cause: str, system: str) -> None:
    assert len(offered(facts(planting={"system": system}), cause)) >= 2


@pytest.mark.parametrize(
    ("cause", "system"), [(c, system) for c, system in PLACES if RULES.causes[c].urgency == 3]
)
def test_an_urgent_cause_begins_with_a_remedy_for_today(cause: str, system: str) -> None:
    first = offered(facts(planting={"system": system}), cause)[0]
    assert first not in CHECKS
    assert ACTIONS[first].when == "today"


@pytest.mark.parametrize("cause", ["pythium-root-rot", "warm-reservoir"])
def test_roots_short_of_air_in_a_tank_get_air_then_cool_then_fresh_solution(cause: str) -> None:
    found = offered(facts(planting={"system": "raft"}, readings={"root_zone_temp_c": 28}), cause)
    assert found[:3] == ["restart-air-pump", "cool-reservoir", "change-solution"]


USUAL = {
    "feed_ph": 5.9, "root_zone_ph": 6.0, "runoff_ph": 6.0, "feed_ec_ms_cm": 1.5, "root_zone_ec_ms_cm": 1.6,
    "runoff_ec_ms_cm": 1.7, "air_temp_c": 23, "night_temp_c": 18, "root_zone_temp_c": 21, "rh_percent": 65,
    "ppfd_umol_m2_s": 260, "photoperiod_h": 16, "water_alkalinity_mg_l": 80,
}  # fmt: skip


@pytest.mark.parametrize(("cause", "system"), PLACES)
def test_something_is_left_to_do_even_where_every_reading_lies_inside_its_range(
    cause: str, system: str
) -> None:
    # Readings can miss the hour or the place of the trouble; a plan without a line would help nobody.
    measured = facts(planting={"system": system, "stage": "vegetative"}, readings=USUAL)
    assert set(offered(measured, cause)) - CHECKS


def test_the_wet_peppers_are_told_to_stop_watering_first() -> None:
    assert offered(facts(**POTS), "overwatering")[0] == "let-pot-dry"
