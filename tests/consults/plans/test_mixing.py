"""The mixing card: aims of the crop, doses of the bench or of the garden, never one that was too strong."""

import pytest

from consults.answers.services import answer_keep
from consults.cases.facts import gather
from consults.cases.rows import casefile_from_rows
from consults.cases.services import reading_record
from consults.models import BenchAnswer
from consults.plans.mixing import mixing_of
from consults.plans.services import plan_draft
from consults.plans.snapshot import build_snapshot
from garden.models import Feed
from garden.reference.loader import load_reference
from garden.wording import Wording
from tests.factories import make_case, make_grower, make_planting, make_staff

pytestmark = pytest.mark.django_db

LABELS = "Grow A: 3-0-4, Ca 3; 2 mL/L\nGrow B: 1-3-5, MgO 1.5; 1.5 mL/L"
SHELF = "Calcium nitrate: calcium-nitrate; 2 g/L\nMKP: monopotassium-phosphate; 1 g/L"


def a_case(units="metric", **planting):
    grower = make_grower(units=units)
    return make_case(make_planting(grower, **{"reservoir_l": 40, **planting}))


def told(case):
    facts = gather(casefile_from_rows(case), load_reference())
    return mixing_of(facts, case.bench_answers.all(), Wording(case.grower.units), "en")


def keep(case, tool, **sent):
    return answer_keep(case=case, tool=tool, sent=sent, by=make_staff())


def measure(case, ec):
    reading_record(case=case, quantity="feed_ec_ms_cm", value=ec, typed=f"{ec}", unit="mS/cm", by=None)


def test_the_aims_are_those_of_the_crop_in_the_grower_s_units():
    aims = {aim["code"]: aim for aim in told(a_case(units="us"))["aims"]}
    band = load_reference().crops["basil"].band("feed_ph", "vegetative")
    assert aims["feed_ph"]["low"] == f"{band.low:.1f}"
    assert aims["feed_ph"]["unit"] == ""
    assert aims["feed_ec_ms_cm"]["unit"] == "mS/cm"
    assert aims["root_zone_temp_c"]["unit"] == "°F"


def test_doses_of_a_kept_label_are_said_for_ten_litres_and_for_the_tank():
    case = a_case()
    keep(case, "feed-label", products=LABELS)
    mixing = told(case)
    assert mixing["doses"] == [
        {"name": "Grow A", "round": "20 mL", "tank": "80 mL"},
        {"name": "Grow B", "round": "15.0 mL", "tank": "60 mL"},
    ]
    assert (mixing["round"], mixing["tank"], mixing["doses_from"]) == ("10 litres", "40 litres", "bench")


def test_in_us_units_they_are_said_for_a_gallon():
    case = a_case(units="us")
    keep(case, "feed-label", products=LABELS, units="us")
    mixing = told(case)
    assert mixing["round"] == "1 US gallon"
    assert mixing["doses"][0]["round"] == "7.6 mL"
    assert mixing["tank"] == "10.6 US gallons"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_recipe_is_worked_out_anew_for_both_volumes_whatever_units_it_was_asked_in(units):
    case = a_case()
    volume = {"metric": "80", "us": "21"}[units]
    keep(case, "feed-recipe", products=SHELF, target="hoagland-1", volume_l=volume, units=units)
    doses = told(case)["doses"]
    assert [dose["name"] for dose in doses] == ["Calcium nitrate", "MKP"]
    per_round, per_tank = (float(doses[0][part].split()[0]) for part in ("round", "tank"))
    assert per_tank == pytest.approx(4 * per_round, rel=0.1)


def test_the_newest_answer_counts():
    case = a_case()
    keep(case, "feed-label", products=LABELS)
    keep(case, "feed-label", products="Bloom: 1-3-5; 1 mL/L")
    assert [dose["name"] for dose in told(case)["doses"]] == ["Bloom"]


def test_an_answer_that_cannot_be_said_anew_gives_no_doses():
    case = a_case()
    kept = keep(case, "feed-label", products=LABELS)
    BenchAnswer.objects.filter(pk=kept.pk).update(answer={**kept.answer, "headline": "EC 9"})
    assert told(case)["doses"] == []


def test_without_the_bench_the_grower_s_own_doses_stand_there():
    case = a_case()
    Feed.objects.create(garden=case.planting.space.garden, product="Leaf feed", ml_per_l=2)
    Feed.objects.create(garden=case.planting.space.garden, product="Root tonic")
    mixing = told(case)
    assert mixing["doses"] == [
        {"name": "Leaf feed", "round": "20 mL", "tank": "80 mL"},
        {"name": "Root tonic", "round": "", "tank": ""},
    ]
    assert (mixing["doses_from"], mixing["thinned"]) == ("garden", False)


def test_a_dose_that_was_measured_too_strong_is_never_repeated():
    case = a_case()
    Feed.objects.create(garden=case.planting.space.garden, product="Leaf feed", ml_per_l=2)
    band = load_reference().crops["basil"].band("feed_ec_ms_cm", "vegetative")
    middle, water = (band.low + band.high) / 2, 0.4
    measure(case, water + 2 * (middle - water))  # twice as much feed as it takes
    mixing = told(case)
    assert mixing["thinned"]
    assert mixing["doses"][0]["round"] == "10.0 mL"


def test_a_feed_that_is_too_weak_keeps_its_dose():
    case = a_case()
    Feed.objects.create(garden=case.planting.space.garden, product="Leaf feed", ml_per_l=2)
    measure(case, 0.5)
    mixing = told(case)
    assert (mixing["doses"][0]["round"], mixing["thinned"]) == ("20 mL", False)


def test_answers_about_acid_and_tank_are_quoted_and_others_are_not():
    case = a_case()
    keep(
        case,
        "water-acid",
        ph="7.8",
        alkalinity_mg_l="120",
        target_ph="5.8",
        acid="phosphoric-85",
        volume_l="40",
    )
    keep(case, "air-dryness", air_temp_c="25", rh_percent="60")
    (answer,) = told(case)["answers"]
    assert answer["question"] == "How much acid?"
    assert any("acid into water" in caution for caution in answer["cautions"])


def test_without_a_tank_there_is_no_amount_for_it():
    case = a_case(reservoir_l=None)
    keep(case, "feed-label", products=LABELS)
    mixing = told(case)
    assert mixing["tank"] == "" and {dose["tank"] for dose in mixing["doses"]} == {""}


def test_the_snapshot_of_a_plan_has_it_with_the_cautions_of_the_rules():
    case = a_case()
    plan = plan_draft(case=case, causes=["overwatering"], by=make_staff())
    mixing = build_snapshot(plan)["mixing"]
    assert any("never water into" in caution for caution in mixing["cautions"])
    assert mixing["recirculating"] is False
