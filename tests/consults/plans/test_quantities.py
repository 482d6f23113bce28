"""Every number a plan quotes, checked by a computation written here, or not quoted at all.

Computed values M2 and M3 stand for the mass balance: they are arithmetic, from no publication. What has a
published definition names it.
"""

import math
import re
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consults.cases.casefile import CaseFile
from consults.cases.facts import gather
from consults.plans.quantities import Worked, all_quantities, work_out
from consults.ruleset.loader import load_bundled
from consults.ruleset.schema import QuantityCode
from garden.reference.loader import load_reference
from garden.wording import Wording
from tests.consults.cases.samples import casefile

REFERENCE = load_reference()
CODES = sorted(all_quantities())


def band(crop: str, reading: str, stage: str | None = None) -> Any:
    found = REFERENCE.crops[crop].band(reading, stage)
    assert found is not None
    return found


def worked(code: str, units: str = "metric", **parts: Any) -> Worked:
    return work_out(code, gather(casefile(**parts), REFERENCE), Wording(units))


def number(text: str) -> float:
    """The first number in a text."""
    found = re.search(r"\d+(?:\.\d+)?", text)
    assert found, text
    return float(found.group())


# A pot of 7.5 L peat and perlite, six to 1.35 m², under a lamp of 320 µmol/s for 16 h.
POT: dict[str, Any] = {
    "garden": {
        "space": {"kind": "tent", "length_m": 1.5, "width_m": 0.9},
        "lamps": [{"type": "led-white", "photon_flux_umol_s": 320, "height_m": 0.4, "hours": 16}],
    },
    "planting": {
        "crop": "pepper", "stage": "vegetative", "system": "hand-watered-pot", "medium": "peat-perlite",
        "container_l": 7.5, "plants": 6,
    },
}  # fmt: skip
SUITS: dict[str, dict[str, Any]] = {
    "watering-interval": POT,
    "watering-volume": POT,
    "leach-volume": {**POT, "readings": {"runoff_ec_ms_cm": 5.0, "water_ec_ms_cm": 0.5}},
    "reservoir-dilution": {"planting": {"reservoir_l": 100}, "readings": {"feed_ec_ms_cm": 3.0}},
    "feed-dilution": {"readings": {"feed_ec_ms_cm": 3.5}},
    "feed-ec-target": {},
    "ph-target": {},
    "alkalinity-removal": {"readings": {"water_alkalinity_mg_l": 200}},
    "lamp-dim": {"readings": {"ppfd_umol_m2_s": 1400}},
    "lamp-raise": {
        "garden": {"lamps": [{"type": "led-white", "height_m": 0.4}]},
        "readings": {"ppfd_umol_m2_s": 1400},
    },
    "lamp-hours": {"readings": {"ppfd_umol_m2_s": 300, "photoperiod_h": 10}},
    "lamp-brighten": {"readings": {"ppfd_umol_m2_s": 60}},
    "humidity-target": {"readings": {"air_temp_c": 26}},
    "vpd-target": {},
    "day-temperature-target": {},
    "night-temperature-target": {},
    "root-temperature-target": {},
    "magnesium-drench": {},
}


def test_every_quantity_that_the_rules_may_name_can_be_worked_out_and_no_other_exists() -> None:
    assert set(CODES) == set(get_args(QuantityCode)) == set(SUITS)
    named = {action.quantity for cause in load_bundled().causes.values() for action in cause.actions}
    assert named - {None} <= set(CODES)


@pytest.mark.parametrize("code", CODES)
def test_a_suitable_case_gets_an_amount_with_its_working_and_source(code: str) -> None:
    answer = worked(code, **SUITS[code])
    assert answer.needs == ""
    assert answer.shown and answer.title and answer.source
    assert answer.lines and all(answer.lines)
    assert len(answer.shown) <= 200, "the plan's column holds 200 characters"


@pytest.mark.parametrize(
    ("code", "parts", "asks"),
    [
        ("watering-interval", {}, "size of the container"),
        ("watering-interval", {"planting": {"container_l": 3}}, "medium"),
        ("watering-interval", {"planting": {"container_l": 3, "medium": "water-only"}}, "medium"),
        ("watering-interval", {"planting": {"container_l": 3, "medium": "coco"}},
         "lamps, or measure the light"),
        ("watering-interval",
         {"planting": {"container_l": 3, "medium": "coco"},
          "readings": {"ppfd_umol_m2_s": 200, "photoperiod_h": 14}},
         "length and width"),
        ("watering-interval",
         {**POT, "readings": {"ppfd_umol_m2_s": 0}}, "Without light"),
        ("watering-volume", {}, "size of the container"),
        ("leach-volume", {}, "size of the container and its medium"),
        ("leach-volume", POT, "EC of the run-off"),
        ("leach-volume", {**POT, "readings": {"runoff_ec_ms_cm": 1.0}}, "nothing to rinse"),
        ("leach-volume", {**POT, "readings": {"runoff_ec_ms_cm": 6.0, "water_ec_ms_cm": 5.0}},
         "too salty to rinse"),
        ("reservoir-dilution", {}, "Measure the EC"),
        ("reservoir-dilution", {"readings": {"feed_ec_ms_cm": 0.5}}, "nothing to drain"),
        ("reservoir-dilution", {"readings": {"feed_ec_ms_cm": 6.0, "water_ec_ms_cm": 5.0}},
         "too salty to thin"),
        ("feed-dilution", {}, "Measure the EC"),
        ("feed-dilution", {"readings": {"feed_ec_ms_cm": 0.5}}, "nothing to thin"),
        ("feed-dilution", {"readings": {"feed_ec_ms_cm": 6.0, "water_ec_ms_cm": 5.0}}, "too salty to thin"),
        ("alkalinity-removal", {}, "Measure the alkalinity"),
        ("alkalinity-removal", {"readings": {"water_alkalinity_mg_l": 60}}, "low enough already"),
        ("lamp-dim", {}, "Measure the light"),
        ("lamp-dim", {"readings": {"ppfd_umol_m2_s": 0}}, "Measure the light"),
        ("lamp-dim", {"readings": {"ppfd_umol_m2_s": 100}}, "within the crop's range"),
        ("lamp-raise", {"readings": {"ppfd_umol_m2_s": 1400}}, "how high the lamp hangs"),
        ("lamp-hours", {}, "Measure the light"),
        ("lamp-brighten", {}, "Measure the light"),
        ("lamp-brighten", {"readings": {"ppfd_umol_m2_s": 1400}}, "within the crop's range"),
        ("humidity-target", {}, "Measure the air temperature"),
    ],
)  # fmt: skip
def test_where_something_is_missing_the_plan_says_what_and_quotes_no_number(
    code: str, parts: dict[str, Any], asks: str
) -> None:
    answer = worked(code, **parts)
    assert answer.shown == ""
    assert asks in answer.needs and answer.needs.endswith(".")


# --- feed and water -------------------------------------------------------------------------------
def test_thinning_a_feed_keeps_the_salt_and_makes_ten_litres() -> None:
    """Mass balance: x L at 3.5 and 10 - x L at 0.4 make 10 L at the middle of the range."""
    answer = worked("feed-dilution", readings={"feed_ec_ms_cm": 3.5, "water_ec_ms_cm": 0.4})
    wanted = band("basil", "feed_ec_ms_cm")
    target = (wanted.low + wanted.high) / 2
    feed, water = (float(x) for x in re.findall(r"([\d.]+) litres", answer.shown)[:2])
    assert feed + water == pytest.approx(10, abs=0.11)
    assert (feed * 3.5 + water * 0.4) / 10 == pytest.approx(target, abs=0.02)


@pytest.mark.parametrize("tank", [100, 60])
def test_draining_a_tank_twice_by_the_amount_shown_ends_at_the_middle_of_the_range(
    tank: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mass balance: drain, refill with 0.4, drain, refill; 3.0 must come down to 2.0.

    The target is the middle of the crop's range, so a range around 2.0 stands in for the crop's own.
    """
    answer = drained(tank, 3.0, 2.0, 0.4, monkeypatch)
    assert "twice, a day apart" in answer.shown
    drawn, salt = number(answer.shown), tank * 3.0
    after = []
    for _swap in range(2):
        salt += drawn * (0.4 - salt / tank)
        after.append(salt / tank)
    assert after[1] == pytest.approx(2.0, abs=0.02)
    assert [float(x) for x in re.findall(r"\d\.\d\d", answer.lines[-1])] == pytest.approx(after, abs=0.02)


def test_one_swap_instead_of_two_would_take_38_5_of_100_litres(monkeypatch: pytest.MonkeyPatch) -> None:
    """Computed value M3: 100 L at 3.0 -> 2.0 in one swap with 0.4 drains 38.5 L, so 61.5 of 100 stay.

    Two swaps keep the square of what one keeps.
    """
    kept = 1 - number(drained(100, 3.0, 2.0, 0.4, monkeypatch).lines[0].split("=")[1])
    assert kept**2 == pytest.approx(0.615, abs=0.002)


def test_thinning_from_3_to_2_takes_as_much_water_as_topping_up_60_litres_would(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Computed value M2: 60 L at 3.0 -> 2.0 with water at 0.4 needs 37.5 L more, 37.5 of 97.5 in all."""
    target_band(monkeypatch, 2.0)
    answer = worked("feed-dilution", readings={"feed_ec_ms_cm": 3.0, "water_ec_ms_cm": 0.4})
    feed, water = (float(x) for x in re.findall(r"([\d.]+) litres", answer.shown)[:2])
    assert water == pytest.approx(10 * 37.5 / 97.5, abs=0.06)
    assert feed == pytest.approx(10 * 60 / 97.5, abs=0.06)


def target_band(monkeypatch: pytest.MonkeyPatch, target: float) -> None:
    from garden.reference.schema import Crop

    own = Crop.band
    wanted = band("basil", "feed_ec_ms_cm").model_copy(update={"low": target - 0.3, "high": target + 0.3})
    monkeypatch.setattr(
        Crop,
        "band",
        lambda self, code, stage=None: wanted if code == "feed_ec_ms_cm" else own(self, code, stage),
    )


def drained(tank: float, now: float, target: float, water: float, monkeypatch: pytest.MonkeyPatch) -> Worked:
    target_band(monkeypatch, target)
    readings = {"feed_ec_ms_cm": now, "water_ec_ms_cm": water}
    return worked("reservoir-dilution", planting={"reservoir_l": tank}, readings=readings)


def test_a_tank_of_unknown_size_is_drained_by_a_share() -> None:
    wanted = band("basil", "feed_ec_ms_cm")
    target = (wanted.low + wanted.high) / 2
    answer = worked("reservoir-dilution", readings={"feed_ec_ms_cm": 4.0, "water_ec_ms_cm": 0.2})
    assert number(answer.shown) == pytest.approx(100 * (1 - math.sqrt((target - 0.2) / 3.8)), abs=0.6)
    assert "% of the tank" in answer.shown


def test_unmeasured_water_counts_as_plain_water_of_0_4() -> None:
    readings = {"feed_ec_ms_cm": 3.5}
    assert worked("feed-dilution", readings=readings) == worked(
        "feed-dilution", readings={**readings, "water_ec_ms_cm": 0.4}
    )


def test_rinsing_takes_a_pot_full_for_each_fall_by_e() -> None:
    """Stirred vessel: V = held * ln((now - rinse) / (target - rinse))."""
    parts = {**POT, "readings": {"runoff_ec_ms_cm": 5.0, "water_ec_ms_cm": 0.5}}
    target = band("pepper", "runoff_ec_ms_cm", "vegetative").high
    held = 7.5 * REFERENCE.media["peat-perlite"].container_capacity
    answer = worked("leach-volume", **parts)
    assert number(answer.shown) == pytest.approx(held * math.log(4.5 / (target - 0.5)), abs=0.06)
    assert answer.estimate


def test_rinsing_goes_by_the_root_zone_when_that_was_measured() -> None:
    readings = {"runoff_ec_ms_cm": 5.0, "root_zone_ec_ms_cm": 4.0}
    answer = worked("leach-volume", **{**POT, "readings": readings})
    assert "(4 −" in answer.lines[0]


def test_alkalinity_above_80_is_taken_away_by_mixing_with_pure_water() -> None:
    """Definition: 1 me/L = 50.04 mg/L CaCO3. 200 mg/L is 4.00 me/L; 80 may stay, 2.40 goes, 4 L to 6 L."""
    answer = worked("alkalinity-removal", readings={"water_alkalinity_mg_l": 200})
    assert re.findall(r"\d+\s[a-z%]+", answer.shown) == [
        "4 litres", "6 litres", "10 litres", "60\N{NO-BREAK SPACE}%",
    ]  # fmt: skip
    assert f"{200 / 50.04:.2f} me/L" in answer.lines[0]
    assert f"{120 / 50.04:.2f} me/L" in answer.lines[0]
    assert 200 * 4 / 10 == 80


@pytest.mark.parametrize("units", ["metric", "us"])
@given(st.floats(81, 800))
def test_the_share_of_alkalinity_taken_away_is_that_of_the_mix_shown(units: str, alkalinity: float) -> None:
    answer = worked("alkalinity-removal", units, readings={"water_alkalinity_mg_l": alkalinity})
    tap, pure, _whole = amounts(answer.shown)
    share = int(re.findall(r"(\d+)\s% less", answer.shown)[0])
    assert abs(100 * pure / (tap + pure) - share) <= 0.5 + 1e-9


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(
    ("code", "reading", "low", "high"),
    [("alkalinity-removal", "water_alkalinity_mg_l", 81, 2000), ("feed-dilution", "feed_ec_ms_cm", 1.4, 20)],
)
@given(st.data())
def test_the_parts_of_a_mix_add_up_to_its_round_whole(
    code: str, reading: str, low: float, high: float, units: str, data: st.DataObject
) -> None:
    answer = worked(code, units, readings={reading: data.draw(st.floats(low, high))})
    first, second, whole = amounts(answer.shown)
    assert first + second == pytest.approx(whole, abs=1e-9)
    assert whole in ([10] if units == "metric" else [1, 5])


def amounts(shown: str) -> list[float]:
    """The volumes of a text, in litres or in US gallons (1 US gallon is 128 US fluid ounces)."""
    sizes = {"litre": 1, "millilitre": 0.001, "US gallon": 1, "US fluid ounce": 1 / 128}
    found = re.findall(r"([\d.]+) (litre|millilitre|US gallon|US fluid ounce)s?", shown)
    return [float(value) * sizes[unit] for value, unit in found]


def test_a_small_share_is_never_shown_as_nothing_nor_a_large_one_as_all() -> None:
    assert (
        " 1\N{NO-BREAK SPACE}% less"
        in worked("alkalinity-removal", readings={"water_alkalinity_mg_l": 81}).shown
    )
    top = band("basil", "ppfd_umol_m2_s").high
    assert (
        "dim to 99\N{NO-BREAK SPACE}%" in worked("lamp-dim", readings={"ppfd_umol_m2_s": top * 1.005}).shown
    )


def test_a_magnesium_drench_is_the_lower_end_of_the_published_range() -> None:
    """1 to 2 lb per 100 US gallons (extension advice, read in a copy): 453.6 g in 378.5 L is 1.2 g/L."""
    assert number(worked("magnesium-drench").shown) == round(10 * 453.59237 / 378.5411784)
    # 16 ounces in 100 gallons are 0.8 in 5.
    assert worked("magnesium-drench", "us").shown.startswith(
        "0.8 ounces of magnesium sulfate in 5 US gallons"
    )


# --- watering -------------------------------------------------------------------------------------
def test_the_watering_interval_follows_from_the_water_in_the_pot_and_the_light_on_the_leaves() -> None:
    """Energy balance with 2.45 MJ/kg (FAO-56) for the light that reaches the leaves.

    4.6 µmol/J (Thimijan and Heins 1983), 80 % absorbed, 80 % of the lamp reaching the leaves, half the
    available water used, 0.8 of the space covered: common practice or judgement, no source.
    """
    ppfd = 320 * 0.8 / 1.35
    litres_m2_d = ppfd / 4.6 * 0.8 * 16 * 3600 / 2.45e6
    per_plant = litres_m2_d * 1.35 * 0.8 / 6
    stock = 7.5 * REFERENCE.media["peat-perlite"].available_water
    days = stock * 0.5 / per_plant
    answer = worked("watering-interval", **POT)
    assert number(answer.shown) == pytest.approx(days, abs=0.25)
    assert number(answer.lines[1]) == pytest.approx(per_plant, rel=0.01)
    assert f"{days:.1f} days" in answer.lines[2]
    lighter = int(re.findall(r"(\d+(?:,\d+)?) grams", answer.shown)[0].replace(",", ""))
    assert lighter == pytest.approx(1000 * stock * 0.5, abs=6)


def test_who_waters_far_beyond_what_the_plant_can_use_is_told_so() -> None:
    planting = {**POT["planting"], "watering_interval_days": 1, "watering_volume_l": 0.8}
    answer = worked("watering-interval", **{**POT, "planting": planting})
    assert "given now: 0.8 L a day" in answer.lines[3]
    assert len(worked("watering-interval", **POT).lines) == 3


def test_the_watering_volume_replaces_what_is_used_and_lets_a_tenth_run_through() -> None:
    """Definition of the leaching fraction (UF/IFAS EP529): given = used / (1 - fraction)."""
    stock = 7.5 * REFERENCE.media["peat-perlite"].available_water
    assert number(worked("watering-volume", **POT).shown) == pytest.approx(stock / 2 / 0.9, abs=0.06)


@pytest.mark.parametrize("plants", [1, 2, 3, 4, 6, 9, 12, 40])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_how_often_is_the_same_in_the_text_and_in_its_working(units: str, plants: int) -> None:
    answer = worked("watering-interval", units, **{**POT, "planting": {**POT["planting"], "plants": plants}})
    said, working = answer.shown.split(",")[0], answer.lines[2]
    assert said.removeprefix("about ") in working
    days = number(working.split("=")[1])
    if "at the longest" in working:
        assert said == "about every 14 days" and days > 14
    elif "times a day" not in said:
        low, *high = (float(x) for x in re.findall(r"\d+", said) or ["1"])
        assert (low + (high or [low])[0]) / 2 == pytest.approx(days, abs=0.31), "a tenth of it is rounding"


def test_the_working_of_the_interval_can_be_followed_with_its_own_numbers() -> None:
    for units in ("metric", "us"):
        for size in (0.3, 2, 7.5, 40):
            planting = {**POT["planting"], "container_l": size}
            line = worked("watering-interval", units, **{**POT, "planting": planting}).lines[2]
            stock, part, use, days = (float(x) for x in re.findall(r"\d+(?:\.\d+)?", line)[:4])
            assert stock * part / use == pytest.approx(days, rel=0.02, abs=0.06)


# --- light and air --------------------------------------------------------------------------------
def test_a_lamp_is_dimmed_in_proportion_and_raised_by_the_square_root() -> None:
    """Output and light are proportional; the inverse square law for the height."""
    top = band("basil", "ppfd_umol_m2_s").high
    dim = worked("lamp-dim", readings={"ppfd_umol_m2_s": 1400})
    assert number(dim.shown) == pytest.approx(100 * top / 1400, abs=2.6)
    higher = worked("lamp-raise", **SUITS["lamp-raise"])
    raised = 100 * 0.4 * math.sqrt(1400 / top)
    assert number(higher.shown) == pytest.approx(raised, abs=0.6)
    assert number(higher.lines[0].split("=")[1]) == number(higher.shown)
    assert higher.estimate and "measure again" in higher.shown


def test_the_hours_of_light_reach_the_middle_of_the_daily_range() -> None:
    """DLI = PPFD x hours x 0.0036 mol/m²/d (definition)."""
    wanted = band("basil", "dli_mol_m2_d")
    middle = (wanted.low + wanted.high) / 2
    hours = middle / (300 * 0.0036)
    assert hours < 16
    answer = worked("lamp-hours", readings={"ppfd_umol_m2_s": 300, "photoperiod_h": 10})
    assert number(answer.shown) == pytest.approx(hours, abs=0.26)


def test_too_weak_a_lamp_is_not_run_for_more_than_sixteen_hours_and_said_to_fall_short() -> None:
    answer = worked("lamp-hours", readings={"ppfd_umol_m2_s": 40, "photoperiod_h": 10})
    assert number(answer.shown) == 16
    assert "short of what the crop wants" in answer.shown


def test_light_estimated_from_the_lamps_is_said_to_be_an_estimate() -> None:
    assert worked("lamp-brighten", readings={"ppfd_umol_m2_s": 60}).estimate is False
    garden = {
        "space": {"length_m": 2, "width_m": 2},
        "lamps": [{"type": "led-white", "photon_flux_umol_s": 300}],
    }
    answer = worked("lamp-brighten", garden=garden)
    assert answer.estimate
    assert number(answer.shown.split("from about")[1]) == 300 * 0.8 / 4


def test_humidity_is_what_gives_the_crops_deficit_at_its_temperature() -> None:
    """FAO-56 equation 11, es(26 °C) = 3.36 kPa; the ASHRAE equations used differ by about 0.1 %."""
    saturation = 0.6108 * math.exp(17.27 * 26 / (26 + 237.3))
    wanted = band("basil", "vpd_kpa")
    low, high = (100 * (1 - deficit / saturation) for deficit in (wanted.high, wanted.low))
    answer = worked("humidity-target", readings={"air_temp_c": 26})
    shown = [float(x) for x in re.findall(r"\d+", answer.shown)[:2]]
    assert shown == pytest.approx([low, high], abs=0.6)


@pytest.mark.parametrize(
    ("code", "reading"),
    [("day-temperature-target", "air_temp_c"), ("night-temperature-target", "night_temp_c"),
     ("root-temperature-target", "root_zone_temp_c")],
)  # fmt: skip
def test_temperatures_are_the_crops_range_in_the_growers_degrees(code: str, reading: str) -> None:
    wanted = band("basil", reading)
    metric, us = worked(code), worked(code, "us")
    assert metric.shown == f"{wanted.low:.0f} to {wanted.high:.0f} °C"
    assert us.shown == f"{wanted.low * 9 / 5 + 32:.0f} to {wanted.high * 9 / 5 + 32:.0f} °F"


def test_targets_are_those_of_the_stage() -> None:
    young, old = (
        worked("feed-ec-target", planting={"crop": "pepper", "stage": s}) for s in ("seedling", "fruiting")
    )
    assert young.shown != old.shown
    wanted = band("pepper", "feed_ec_ms_cm", "seedling")
    assert young.shown == f"EC {wanted.low:.1f} to {wanted.high:.1f} mS/cm"


# --- US growers -----------------------------------------------------------------------------------
METRIC_WORDS = re.compile(r"\b(litres|millilitres|metres|centimetres|grams)\b|°C")


@pytest.mark.parametrize("code", CODES)
def test_us_growers_read_us_units(code: str) -> None:
    metric, us = worked(code, **SUITS[code]), worked(code, "us", **SUITS[code])
    assert not METRIC_WORDS.search(us.shown)
    assert (us.shown != metric.shown) == bool(METRIC_WORDS.search(metric.shown))


def test_a_us_grower_reads_the_same_water_in_gallons() -> None:
    """1 US gallon is 3.785411784 L (definition: 231 cubic inches)."""
    litres = number(worked("leach-volume", **SUITS["leach-volume"]).shown)
    gallons = number(worked("leach-volume", "us", **SUITS["leach-volume"]).shown)
    assert gallons * 3.785411784 == pytest.approx(litres, abs=0.25)


@pytest.mark.parametrize("code", CODES)
def test_us_growers_can_follow_the_working_too(code: str) -> None:
    lines = " ".join(worked(code, "us", **SUITS[code]).lines)
    assert not re.search(r"\d (L|mL|m|cm|g)\b|°C|(?<!m)g/L", lines), lines


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("code", CODES)
def test_only_an_estimate_is_said_to_be_about_so_much(code: str, units: str) -> None:
    dim = {
        "space": {"length_m": 2, "width_m": 2},
        "lamps": [{"type": "led-white", "photon_flux_umol_s": 300}],
    }
    bright = {**dim, "lamps": [{"type": "led-white", "photon_flux_umol_s": 9000, "height_m": 0.4}]}
    for parts in (SUITS[code], {"garden": dim}, {"garden": bright}):
        answer = worked(code, units, **parts)
        assert ("about" in answer.shown) == answer.estimate, answer.shown


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("code", CODES)
def test_the_part_printed_large_is_short_and_has_the_amount(code: str, units: str) -> None:
    large = re.split(r"[,;] | \(", worked(code, units, **SUITS[code]).shown)[0]
    assert len(large) <= 75 and re.search(r"\d", large), large
    if code == "reservoir-dilution":
        assert large.endswith("twice")


# --- whatever was measured ------------------------------------------------------------------------
_MEASURED = {code: st.floats(r.min, r.max) for code, r in REFERENCE.readings.items() if not r.derived}


@st.composite
def _any_garden(draw: st.DrawFn) -> CaseFile:
    def maybe(strategy: st.SearchStrategy[Any]) -> Any:
        return draw(st.none() | strategy)

    planting = {
        "crop": draw(st.sampled_from(sorted(REFERENCE.crops))),
        "stage": maybe(st.sampled_from(sorted(REFERENCE.stages))),
        "medium": maybe(st.sampled_from(sorted(REFERENCE.media))),
        "container_l": maybe(st.floats(0.01, 100_000)),
        "reservoir_l": maybe(st.floats(0.01, 1_000_000)),
        "plants": maybe(st.integers(1, 100_000)),
        "watering_interval_days": maybe(st.floats(0.01, 60)),
        "watering_volume_l": maybe(st.floats(0, 1000)),
    }
    lamp = {
        "type": "led-white",
        "height_m": maybe(st.floats(0.01, 1000)),
        "watts": maybe(st.floats(0.1, 20000)),
        "hours": maybe(st.floats(0, 24)),
    }
    space = {"length_m": maybe(st.floats(0.01, 1000)), "width_m": maybe(st.floats(0.01, 1000))}
    data = {
        "case_file": 1,
        "planting": {key: value for key, value in planting.items() if value is not None},
        "garden": {"space": space, "lamps": [lamp]},
        "readings": draw(st.fixed_dictionaries({}, optional=_MEASURED)),
    }
    return CaseFile.model_validate(data)


@settings(max_examples=150, deadline=None)
@given(_any_garden(), st.sampled_from(["metric", "us"]))
def test_no_amount_is_ever_negative_or_no_number(case: CaseFile, units: str) -> None:
    facts = gather(case, REFERENCE)
    for code in CODES:
        answer = work_out(code, facts, Wording(units))
        assert bool(answer.shown) != bool(answer.needs)
        assert not re.search(r"\b(nan|inf)\b", " ".join([answer.shown, *answer.lines]), re.IGNORECASE), code
        if "°" not in answer.shown:
            assert not re.search(r"(?:^|[\s(])[-−]\d", answer.shown), (code, answer.shown)
        nothing = re.search(r"(?<![\d.,])0 (%|litres|millilitres|US|ounces|pounds|grams|hours)", answer.shown)
        assert not nothing, (code, answer.shown)
