"""Every tool answers its own example, and one question whose answer is known from elsewhere."""

import json
import math
import re
from itertools import pairwise

import pytest

from garden.bench.tool import GROUPS, Refused, answer_json, work_out
from garden.bench.tools import all_tools
from garden.wording import Wording

CODES = sorted(all_tools())


def ask(code, units="metric", **values):
    """The answer of a tool to its example, with some values changed."""
    tool = all_tools()[code]
    return work_out(tool, {**tool.example(), **values}, Wording(units))


NO_WATER = {"alkalinity_mg_l": None, "Ca": None, "Mg": None}


def fact(answer, label):
    return dict(answer.facts)[label]


def number(text):
    return float(re.search(r"-?\d+(?:\.\d+)?", text.replace(",", ""))[0])


# --- what holds for all of them -------------------------------------------------------------------
@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("code", CODES)
def test_every_tool_answers_its_own_example(code, units):
    answer = ask(code, units)
    assert answer.headline.strip()
    assert answer.working
    assert answer.source.strip()
    assert not re.search(
        r"\bnan\b|\binf\b|%\(|%s|-0\b", json.dumps(answer_json(answer)["facts"]) + answer.headline
    )


@pytest.mark.parametrize("code", CODES)
def test_every_input_has_an_example_within_its_limits(code):
    for field in all_tools()[code].fields:
        assert field.example is not None, field.name
        if field.is_amount:
            assert field.low <= field.example <= field.high, field.name
        if field.choices:
            assert field.example in {value for value, _name in field.choices()}, field.name


@pytest.mark.parametrize("code", CODES)
def test_every_input_that_must_be_there_is_asked_for_by_name(code):
    tool = all_tools()[code]
    for field in tool.fields:
        if not field.optional:
            with pytest.raises(Refused) as refused:
                work_out(tool, {**tool.example(), field.name: None}, Wording())
            assert refused.value.field == field.name
            assert str(field.label) in str(refused.value)


@pytest.mark.parametrize("code", CODES)
def test_every_tool_answers_or_refuses_with_a_sentence_at_the_ends_of_its_inputs(code):
    tool = all_tools()[code]
    for field in tool.fields:
        if field.is_amount:
            for end in (field.low, field.high):
                if field.above and end == field.low:
                    continue
                try:
                    answer = work_out(tool, {**tool.example(), field.name: end}, Wording())
                except Refused as refused:
                    assert str(refused).endswith("."), (field.name, end, str(refused))
                else:
                    assert "nan" not in answer.headline.split(), (field.name, end)


@pytest.mark.parametrize("code", CODES)
def test_every_tool_works_without_what_is_optional(code):
    tool = all_tools()[code]
    least = {field.name: field.example for field in tool.fields if not field.optional}
    try:
        assert work_out(tool, least, Wording()).headline
    except Refused as refused:
        assert code == "water-suit"  # an analysis needs one result, whichever it is
        assert "at least one result" in str(refused)


def test_codes_are_words_and_hyphens_and_groups_are_known():
    for code, tool in all_tools().items():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", code)
        assert code == tool.code
        assert tool.group in GROUPS


def test_an_answer_can_be_kept_as_json():
    kept = answer_json(ask("feed-drain"))
    assert json.loads(json.dumps(kept)) == kept
    assert set(kept) == {"headline", "facts", "working", "source", "cautions", "picture", "estimate", "notes"}


def test_what_can_hurt_somebody_carries_its_cautions():
    for code, words in (
        ("water-acid", ("acid into water", "goggles", "bleach", "label")),
        ("room-co2", ("alarm", "5,000 ppm", "local codes")),
        ("room-fan", ("electrician",)),
        ("feed-drain", ("Unplug",)),
        ("light-height", ("Unplug",)),
        ("watering-oxygen", ("Unplug",)),
    ):
        said = " ".join(ask(code).cautions)
        for word in words:
            assert word in said or word.replace(",", "") in said, (code, word)


def test_a_lamp_that_is_lowered_carries_the_caution_of_heat():
    assert "start a fire" in " ".join(ask("light-height", ppfd_umol_m2_s=100.0).cautions)
    assert "start a fire" not in " ".join(ask("light-height", ppfd_umol_m2_s=400.0).cautions)


def test_light_height_hangs_no_lamp_above_the_roof():
    with pytest.raises(Refused) as refused:
        ask("light-height", ppfd_umol_m2_s=400.0, target_umol_m2_s=0.1)
    assert refused.value.field == "target_umol_m2_s"


@pytest.mark.parametrize("temp", [6.0, 17.3, 26.0, 31.7, 44.0])
def test_saturated_air_is_answered_like_any_other(temp):
    for code in ("watering-interval", "watering-much", "air-dryness"):
        assert ask(code, air_temp_c=temp, rh_percent=100.0, leaf_temp_c=None).headline


def test_too_long_a_duct_is_refused_beside_it():
    with pytest.raises(Refused) as refused:
        ask("room-fan", duct_m=50.0)
    assert refused.value.field == "duct_m"


def test_a_fan_for_at_least_so_much_is_rounded_up():
    # 430 W × 3600 ÷ (1.2 × 1006 × 4) = 320.6 m³/h; ÷ (0.75 × 0.98² × 0.95) = 468.5, as one buys it 470.
    assert "at least 470 m³/h" in ask("room-fan").headline
    # 400 W alone: 298.2 m³/h; ÷ 0.6843 = 435.8, rounded up to 440.
    assert "at least 440 m³/h" in ask("room-fan", other_w=None).headline


def test_large_doses_are_said_in_litres_and_kilograms():
    assert "146 L of Phosphoric" in ask("water-acid", volume_l=1e6).headline
    assert "146 L (39 US gallons)" in ask("water-acid", "us", volume_l=1e6).headline
    assert " kg" in ask("feed-recipe", volume_l=1e6).headline


def test_feed_recipe_says_what_no_product_holds():
    assert fact(ask("feed-recipe"), "Not in it at all").startswith("Boron")
    assert "Boron" not in fact(ask("feed-recipe"), "Off by more than a tenth")


# --- one value from elsewhere for each ------------------------------------------------------------
def test_air_dryness_has_the_deficit_of_fao_56():
    # FAO-56, annex 2, table 2.3: saturation pressure at 25 °C 3.168 kPa; half of it is left at 50 %.
    answer = ask("air-dryness", air_temp_c=25.0, rh_percent=50.0)
    assert "VPD 1.58 kPa" in answer.headline
    assert answer.picture.startswith("<svg")


def test_air_night_has_the_dew_point_of_fao_56():
    # FAO-56, annex 2, table 2.3: half of 3.168 kPa lies at 13.9 °C (from memory: 1.547 at 13.5, 1.599 at 14).
    answer = ask("air-night", air_temp_c=25.0, rh_percent=50.0, night_temp_c=18.0)
    assert fact(answer, "Dew point of the evening air") == "13.9 °C"
    assert answer.headline.startswith("No:")
    assert ask("air-night", air_temp_c=25.0, rh_percent=50.0, night_temp_c=12.0).headline.startswith("Yes:")


def test_light_day_has_the_lux_factor_of_thimijan_and_heins():
    # Thimijan and Heins 1983: 82 lux for each µmol/m²/s of high-pressure sodium; 100 µmol for 10 h = 3.6 mol.
    answer = ask("light-day", meter="lux", meter_value=8200.0, lamp_type="hps", hours=10.0)
    assert answer.headline.startswith("3.6 mol/m² a day")
    assert answer.estimate
    # One foot-candle is 10.764 lux (one lumen per square foot; foot 0.3048 m by definition).
    same = ask("light-day", meter="fc", meter_value=8200 / 10.764, lamp_type="hps", hours=10.0)
    assert same.headline.startswith("3.6 mol/m² a day")


def test_light_day_refuses_lux_of_red_and_blue_lamps_beside_the_lamp():
    with pytest.raises(Refused) as refused:
        ask("light-day", meter="lux", lamp_type="led-red-blue")
    assert refused.value.field == "lamp_type"


def test_light_height_follows_the_inverse_square_and_the_inverse_distance():
    # A quarter of the light: twice the height for a point, four times for a line (geometry).
    answer = ask("light-height", ppfd_umol_m2_s=400.0, target_umol_m2_s=100.0, height_m=0.4)
    assert fact(answer, "Height above the leaves then") == "80 to 160 cm"
    assert answer.headline.startswith("Raise it by 40 to 120 cm")
    assert fact(answer, "Or dim it to") == "25\N{NO-BREAK SPACE}%"


def test_light_height_aims_at_the_crops_band_when_no_light_is_named():
    assert ask("light-height", ppfd_umol_m2_s=1500.0, target_umol_m2_s=None).headline.startswith("Raise it")
    assert ask("light-height", ppfd_umol_m2_s=20.0, target_umol_m2_s=None).headline.startswith("Lower it")


def test_light_even_has_the_closed_form_under_a_point():
    # A Lambertian point of flux F at height h gives F/(πh²) straight below it: 628 µmol/s at 1 m, 200.
    answer = ask(
        "light-even", length_m=1.0, width_m=1.0, along=1.0, across=1.0, flux_umol_s=200 * math.pi,
        height_m=1.0, lamp_length_m=None, lamp_width_m=None, walls="open",
    )  # fmt: skip
    assert fact(answer, "Brightest") == "200 µmol/m²/s"
    assert "fig-light-map" in answer.picture


def test_watering_interval_balances_what_is_used_and_what_runs_through():
    # Definition of the leaching fraction (UF/IFAS EP529): 3 L × 0.30 × half = 0.45 L; ÷ 0.9 = 0.5 L.
    answer = ask("watering-interval", pot_height_m=None, leach_percent=10.0, empty_pot_g=None)
    assert "500 millilitres each time" in answer.headline
    assert fact(answer, "Of it runs through") == "50 millilitres"
    # One litre of water weighs 1000 g: half of 0.9 L gone.
    assert fact(answer, "Water when it is lighter by") == "450 grams"
    assert answer.picture.startswith("<svg")
    assert answer.estimate


def test_watering_much_tells_the_rhythms_apart():
    # A pot of 10 L with 3 L to take up, watered hourly or monthly, needs no further arithmetic.
    assert ask("watering-much", container_l=10.0, between_days=0.05).headline.startswith("Yes, too often")
    assert "dries out" in ask("watering-much", container_l=1.0, between_days=30.0).headline


def test_watering_rinse_is_one_pot_full_for_each_fold_of_e():
    # Stirred vessel: a difference falls to 1/e after one volume; 10 L × 0.55 held = 5.5 L.
    answer = ask(
        "watering-rinse", container_l=10.0, root_zone_ec_ms_cm=math.e, target_ec_ms_cm=1.0, water_ec_ms_cm=0.0
    )
    assert answer.headline.startswith("Pour 5.5 litres")
    assert fact(answer, "That is") == "1.0 times what the pot holds"


@pytest.mark.parametrize(("temp", "published"), [(20.0, 9.09), (25.0, 8.26)])
def test_watering_oxygen_has_the_saturation_of_benson_and_krause(temp, published):
    # Benson and Krause 1984, as the table of Standard Methods 4500-O has it: 9.09 mg/L at 20 °C, 8.26 at 25.
    answer = ask("watering-oxygen", water_temp_c=temp, altitude_m=None)
    assert f"{published:.2f} mg/L" in answer.working[0]


def test_feed_drain_halves_the_difference_by_draining_half():
    # Mass balance: from 2 to 1 with water of 0, half the tank.
    answer = ask(
        "feed-drain", ec_ms_cm=2.0, target_ec_ms_cm=1.0, water_ec_ms_cm=0.0, tank_l=40.0, volume_l=None
    )
    assert answer.headline.startswith("Drain 20 litres (50\N{NO-BREAK SPACE}% of the full tank)")
    # Half full of 2, topped up with water of 0, it is 1 without draining.
    topped = ask(
        "feed-drain", ec_ms_cm=2.0, target_ec_ms_cm=1.0, water_ec_ms_cm=0.0, tank_l=40.0, volume_l=20.0
    )
    assert topped.headline == "Do not drain: top up, and it comes to EC 1.0 mS/cm"


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"volume_l": 50.0, "tank_l": 40.0}, "volume_l"), ({"target_ec_ms_cm": 0.3}, "target_ec_ms_cm")],
)
def test_feed_drain_refuses_beside_the_field(changed, field):
    with pytest.raises(Refused) as refused:
        ask("feed-drain", **changed)
    assert refused.value.field == field


def test_feed_label_has_the_conductivity_standard_of_wu_koch_and_pratt():
    # Potassium chloride 0.01 mol/kg (0.745 g/L): 1.408 mS/cm at 25 °C (Wu, Koch and Pratt 1991).
    answer = ask("feed-label", products="KCl: potassium-chloride; 0.745 g/L", **NO_WATER)
    assert answer.headline.startswith("EC 1.4 mS/cm")


def test_feed_label_has_the_nutrients_of_epsom_salt():
    # Atomic masses (IUPAC): MgSO4·7H2O is 24.305/246.47 magnesium, 9.86 %; 1 g/L gives 98.6 mg/L.
    answer = ask("feed-label", products="Epsom: magnesium-sulfate; 1 g/L", **NO_WATER)
    assert fact(answer, "Magnesium (Mg)") == "99 mg/L"


def test_feed_recipe_finds_the_salts_that_hoagland_and_arnon_wrote_down():
    # Hoagland and Arnon 1950, solution 1 (from memory): 5 mmol/L each of calcium and potassium nitrate, 1 of
    # monopotassium phosphate, 2 of magnesium sulfate; by molar mass 1.18, 0.506, 0.136 and 0.493 g/L.
    salts = {
        "Ca": "calcium-nitrate-tetrahydrate", "K": "potassium-nitrate", "P": "monopotassium-phosphate",
        "Mg": "magnesium-sulfate",
    }  # fmt: skip
    shelf = "\n".join(f"{name}: {salt}; 3 g/L" for name, salt in salts.items())
    answer = ask(
        "feed-recipe", products=shelf, target="hoagland-1",
        strength_percent=None, volume_l=100.0, step_g=0.1, **NO_WATER,
    )  # fmt: skip
    for name, grams in (("Ca", 118.1), ("K", 50.6), ("P", 13.6), ("Mg", 49.3)):
        assert number(fact(answer, name)) == pytest.approx(grams, rel=0.03), name
    assert "fig-bands" in answer.picture


def test_feed_cloud_knows_calcium_and_sulfate():
    # Gypsum dissolves to about 2.4 g/L (from memory); 100 g/L of each is far beyond it (common practice).
    two = ask("feed-cloud", products="A: calcium-nitrate; 100 g/L\nB: magnesium-sulfate; 100 g/L", **NO_WATER)
    assert "Gypsum" in two.headline
    one = ask("feed-cloud", products="A: potassium-nitrate; 50 g/L\nB: magnesium-nitrate; 50 g/L", **NO_WATER)
    assert one.headline.startswith("No:")


def test_feed_tank_ends_where_it_was_asked_to():
    # Mass balance: half a tank topped up with pure water keeps half its salts, so about half its EC.
    answer = ask("feed-tank", ec_ms_cm=2.0, volume_l=20.0, alkalinity_mg_l=None, acid="")
    assert number(fact(answer, "1. Top up with plain water").split("EC")[1]) == pytest.approx(1.0, rel=0.05)
    assert number(fact(answer, "It ends at")) == pytest.approx(1.8, rel=0.03)


def test_water_acid_takes_what_the_carbonates_ask_for():
    # Closed tank, pK1 6.35: 150 mg/L is 2.998 me/L; bicarbonate is 0.966 of it at pH 7.8 and 0.220 at 5.8, so
    # 2.998 × (1 − 0.220/0.966) = 2.32 me/L, less a little for ionic strength; sulfur 16.03 mg for each me.
    answer = ask(
        "water-acid", acid="sulfuric-93", ph=7.8, alkalinity_mg_l=150.0, target_ph=5.8, Ca=None, Mg=None
    )
    taken = float(re.search(r"([\d.]+) me/L", answer.working[1])[1])
    assert taken == pytest.approx(2.32, rel=0.04)
    assert number(fact(answer, "Adds Sulfur")) == pytest.approx(taken * 16.03, abs=0.6)


def test_water_acid_refuses_a_ph_above_the_waters_own_beside_it():
    with pytest.raises(Refused) as refused:
        ask("water-acid", ph=6.0, target_ph=7.0)
    assert refused.value.field == "target_ph"


def test_water_blend_is_a_mass_balance():
    # From 150 to 60 with water of 0: (150 − 60) ÷ 150 = 0.6.
    answer = ask("water-blend", alkalinity_mg_l=150.0, target_mg_l=60.0, volume_l=100.0)
    assert fact(answer, "Pure water") == "60\N{NO-BREAK SPACE}%"
    assert answer.headline.startswith("60 litres of rain")


def test_water_suit_has_the_hardness_of_standard_methods():
    # Standard Methods 2340 B (from memory): hardness = 2.497 Ca + 4.118 Mg = 199 mg/L for 60 and 12.
    answer = ask("water-suit", Ca=60.0, Mg=12.0)
    assert fact(answer, "Hardness").startswith("199 mg/L")


def test_water_suit_judges_a_single_number():
    alone = {field.name: None for field in all_tools()["water-suit"].fields}
    answer = ask("water-suit", **{**alone, "ec_ms_cm": 3.5})
    assert answer.headline.startswith("Not as it is: EC")
    assert "no pH given: reckoned as 7.5" in answer.working


def test_water_suit_shows_the_limits_of_all_sources_as_ranges():
    # FAO Irrigation and Drainage Paper 29, table 1 (as in water_limits.yaml): EC 0.7 and 3.0 mS/cm.
    assert "fine up to 0.7, severe above 3" in fact(ask("water-suit"), "EC")
    assert ask("water-suit", ec_ms_cm=3.5).headline.startswith("Not as it is: EC")


def test_watering_much_says_where_its_two_reckonings_disagree():
    # A pepper in 7.5 L: by radiation it uses a quarter of what it uses by its leaves.
    daily = ask("watering-much", container_l=7.5, plant_area_m2=0.225, ppfd_umol_m2_s=190.0, rh_percent=62.0)
    assert daily.headline.startswith("Yes, too often")
    assert any(note.startswith("The second reckoning says: No") for note in daily.notes)
    often = ask("watering-much", between_days=0.05)
    assert not any("second reckoning says" in note for note in often.notes)


def test_room_fan_has_the_rule_of_ashrae():
    # ASHRAE standard air (from memory): BTU/h = 1.08 × CFM × °F; 1467 BTU/h and 7.2 °F, so 189 CFM.
    answer = ask("room-fan", "us", watts=400.0, other_w=30.0, rise_c=4.0)
    assert number(fact(answer, "For the heat")) == pytest.approx(189, abs=1)


def test_room_dryer_takes_out_all_that_is_not_drained():
    # Mass balance 6 − 1 = 5 L; a US pint is 0.473176 L by definition.
    answer = ask("room-dryer", given_l_d=6.0, drained_l_d=1.0)
    assert fact(answer, "Water to take out a day") == "5 litres"
    litres, pints = (
        number(answer.headline.split("rated at")[1]),
        number(fact(answer, "Rating in US pints a day")),
    )
    assert pints == pytest.approx(litres / 0.473176, abs=0.6)


def test_room_co2_has_the_weight_that_niosh_gives():
    # NIOSH pocket guide (from memory): 1 ppm = 1.80 mg/m³ at 25 °C; 3 × 2 × 2.4 m × 580 ppm = 15.0 g.
    answer = ask("room-co2", co2_ppm=420.0, target_ppm=1000.0, air_temp_c=25.0)
    assert fact(answer, "To fill the room once") == "15 grams"


def test_room_co2_says_where_more_is_asked_for_than_gains_anything():
    assert not ask("room-co2").notes
    assert "little is gained" in " ".join(ask("room-co2", target_ppm=1400.0).notes)


def test_room_co2_gives_no_dose_where_it_makes_no_sense_or_harms_people():
    assert ask("room-co2", ppfd_umol_m2_s=100.0).facts == ()
    assert ask("room-co2", changes_per_h=20.0).facts == ()
    harmful = ask("room-co2", co2_ppm=6000.0)
    assert harmful.headline.startswith("Stop: leave the room")
    assert harmful.facts == ()


def test_young_humidity_has_the_deficit_of_fao_56():
    # FAO-56, annex 2, table 2.3 (from memory): 2.984 kPa at 24 °C; a tenth to a fifth of it is left.
    answer = ask("young-humidity", method="dome", phase="rooting", air_temp_c=24.0)
    assert fact(answer, "VPD that belongs to it") == "0.30 to 0.60 kPa"


def test_young_light_never_steps_up_by_more_than_a_quarter():
    # Common practice, no source: seedlings at most a quarter more at once.
    answer = ask("young-light", ppfd_umol_m2_s=100.0, target_umol_m2_s=400.0, kind="seedlings")
    lights = [100.0, *(number(value) for _label, value in answer.facts)]
    assert lights[-1] == 400
    assert all(later / earlier < 1.31 for earlier, later in pairwise(lights))  # shown to the ten


def test_feed_meter_knows_the_scales_by_their_names():
    # A convention of meters: the scale is the ppm shown for 1 mS/cm (common practice, no source).
    answer = ask("feed-meter", shown=980.0, scale="700", water_temp_c=None)
    assert answer.headline == "EC 1.40 mS/cm"
    assert fact(answer, "On the 500 scale") == "700 ppm"
    # Wu, Koch and Pratt 1991: potassium chloride of 0.01 mol/kg, 1.273 mS/cm at 20 °C, 1.408 at 25.
    corrected = ask("feed-meter", shown=1.273, scale="ec", water_temp_c=20.0)
    assert number(corrected.headline) == pytest.approx(1.408, abs=0.01)


def test_feed_uptake_has_iron_hard_to_get_at_a_high_ph_and_all_at_six():
    # Common practice, no source.
    assert "Iron" in ask("feed-uptake", root_zone_ph=7.5).headline
    assert ask("feed-uptake", root_zone_ph=6.1).headline.startswith("All of them")
