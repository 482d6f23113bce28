"""What is known of a case in numbers: measured first, then the garden's description, then what follows."""

import math
from typing import Any

import pytest

from consults.cases.facts import Facts, gather
from garden.reference.loader import load_reference
from tests.consults.cases.samples import casefile

REFERENCE = load_reference()


def facts(**parts: Any) -> Facts:
    return gather(casefile(**parts), REFERENCE)


def known(found: Facts, code: str) -> tuple[float, str]:
    return found.known[code].value, found.known[code].origin


def test_what_was_measured_stands_as_it_was_measured() -> None:
    found = facts(readings={"root_zone_ph": 6.9})
    assert known(found, "root_zone_ph") == (6.9, "measured")
    assert found.value("feed_ph") is None


def test_the_water_and_the_hours_of_light_come_from_the_garden_unless_measured() -> None:
    garden = {
        "water": {"alkalinity_mg_l": 140, "ec_ms_cm": 0.5, "sodium_mg_l": 20, "chloride_mg_l": 30},
        "lamps": [{"type": "hps", "hours": 12}, {"type": "hps", "hours": 15}],
    }
    found = facts(garden=garden, readings={"water_ec_ms_cm": 0.7})
    assert known(found, "water_alkalinity_mg_l") == (140, "garden")
    assert known(found, "water_sodium_mg_l") == (20, "garden")
    assert known(found, "water_chloride_mg_l") == (30, "garden")
    assert known(found, "photoperiod_h") == (15, "garden")
    assert known(found, "water_ec_ms_cm") == (0.7, "measured")


def test_the_vapour_pressure_deficit_follows_from_air_and_humidity() -> None:
    """FAO-56 equation 11, es(25 °C) = 3.168 kPa; the ASHRAE equations used differ by about 0.1 %."""
    value, origin = known(facts(readings={"air_temp_c": 25, "rh_percent": 60}), "vpd_kpa")
    assert value == pytest.approx(0.4 * 0.6108 * math.exp(17.27 * 25 / (25 + 237.3)), rel=0.002)
    assert origin == "computed"


def test_the_daily_light_follows_from_light_and_hours() -> None:
    """DLI = PPFD x hours x 0.0036 (definition)."""
    value, origin = known(facts(readings={"ppfd_umol_m2_s": 250, "photoperiod_h": 16}), "dli_mol_m2_d")
    assert value == pytest.approx(250 * 16 * 0.0036)
    assert origin == "computed"


def test_the_rise_of_the_run_off_is_its_ec_less_that_of_the_feed() -> None:
    found = facts(readings={"runoff_ec_ms_cm": 3.1, "feed_ec_ms_cm": 1.6})
    assert known(found, "ec_rise_ms_cm") == (pytest.approx(1.5), "computed")
    falling = facts(readings={"runoff_ec_ms_cm": 1.0, "feed_ec_ms_cm": 1.6})
    assert falling.value("ec_rise_ms_cm") == pytest.approx(-0.6)


@pytest.mark.parametrize(
    "one", [{"air_temp_c": 25}, {"rh_percent": 60}, {"ppfd_umol_m2_s": 9}, {"runoff_ec_ms_cm": 2}]
)
def test_nothing_follows_from_half_of_it(one: dict[str, float]) -> None:
    assert set(facts(readings=one).known) == set(one)


SPACE = {"length_m": 1.5, "width_m": 0.9}


@pytest.mark.parametrize(
    ("lamps", "flux"),
    [
        ([{"type": "led-white", "photon_flux_umol_s": 320}], 320),
        ([{"type": "led-white", "photon_flux_umol_s": 100, "count": 3}], 300),
        ([{"type": "led-white", "watts": 100, "efficacy_umol_j": 2.5}], 250),
        ([{"type": "hps", "watts": 100}], 100 * REFERENCE.lamps["hps"].efficacy_umol_j),
        (
            [{"type": "hps", "watts": 100, "efficacy_umol_j": 2}, {"type": "hps", "photon_flux_umol_s": 50}],
            250,
        ),
    ],
)
def test_light_is_estimated_from_the_lamps_over_the_space(lamps: list[dict[str, Any]], flux: float) -> None:
    """Conservation of photons; four fifths reach the leaves: common practice, no source."""
    found = facts(garden={"space": SPACE, "lamps": [{**lamp, "hours": 16} for lamp in lamps]})
    assert known(found, "ppfd_umol_m2_s") == (pytest.approx(flux * 0.8 / 1.35), "estimated")
    assert found.known["dli_mol_m2_d"].origin == "estimated"


@pytest.mark.parametrize(
    "garden",
    [
        {"space": SPACE},
        {"lamps": [{"type": "hps", "watts": 100}]},
        {"space": {"length_m": 1.5}, "lamps": [{"type": "hps", "watts": 100}]},
        {"space": SPACE, "lamps": [{"type": "hps"}, {"type": "hps", "watts": 100}]},
        {"space": SPACE, "lamps": [{"type": "hps", "photon_flux_umol_s": 0}]},
        {"space": SPACE, "lamps": [{"type": "hps", "photon_flux_umol_s": 20_000, "count": 500}]},
        {"space": {"length_m": 0.1, "width_m": 0.1}, "lamps": [{"type": "hps", "watts": 1000}]},
    ],
)
def test_light_that_cannot_be_estimated_or_cannot_be_is_not_known(garden: dict[str, Any]) -> None:
    assert facts(garden=garden).value("ppfd_umol_m2_s") is None


def test_measured_light_stands_above_the_estimate() -> None:
    garden = {"space": SPACE, "lamps": [{"type": "hps", "watts": 100, "hours": 12}]}
    assert known(facts(garden=garden, readings={"ppfd_umol_m2_s": 77}), "ppfd_umol_m2_s") == (77, "measured")


def test_a_crop_without_a_profile_is_judged_by_the_one_named() -> None:
    okra = facts(planting={"crop": "okra", "profile": "generic-fruiting", "stage": "seedling"})
    assert okra.band("feed_ec_ms_cm") == REFERENCE.crops["generic-fruiting"].band("feed_ec_ms_cm", "seedling")
