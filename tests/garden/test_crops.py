"""The crops a shop is asked about are there, stage by stage, and say where their figures come from."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.light import dli_mol_m2_d
from garden.reference.loader import load_reference
from garden.reference.schema import NO_SOURCE

REFERENCE = load_reference()
OWN = {code: crop for code, crop in REFERENCE.crops.items() if not crop.is_profile}
STAGES = list(REFERENCE.stages)
ASKED_FOR = {
    "basil",
    "chive",
    "coriander",
    "cucumber",
    "leafy-greens",
    "lettuce",
    "microgreens",
    "mint",
    "parsley",
    "pepper",
    "petunia",
    "strawberry",
    "tomato",
}
NAMED = [
    "air_temp_c",
    "night_temp_c",
    "rh_percent",
    "vpd_kpa",
    "ppfd_umol_m2_s",
    "dli_mol_m2_d",
    "feed_ec_ms_cm",
    "feed_ph",
    "root_zone_ph",
    "root_zone_temp_c",
]


def test_every_crop_asked_for_has_a_profile_of_its_own():
    assert set(OWN) >= ASKED_FOR
    assert len(OWN) >= 14
    assert set(REFERENCE.profiles) == {"generic-leafy", "generic-fruiting", "generic-ornamental"}


@pytest.mark.parametrize("crop", REFERENCE.crops)
@pytest.mark.parametrize("stage", STAGES)
def test_every_crop_says_what_it_wants_in_every_stage(crop, stage):
    missing = [reading for reading in NAMED if REFERENCE.crops[crop].band(reading, stage) is None]
    assert missing == []


@given(st.sampled_from(sorted(REFERENCE.crops)), st.sampled_from(STAGES), st.sampled_from(NAMED))
def test_the_tolerated_range_holds_the_comfortable_one(crop, stage, reading):
    band = REFERENCE.crops[crop].band(reading, stage)
    assert band.wide_low <= band.low <= band.high <= band.wide_high
    assert band.wide_low < band.wide_high


@pytest.mark.parametrize("crop", OWN)
def test_a_crop_of_its_own_differs_from_its_profile(crop):
    profile = REFERENCE.profiles[OWN[crop].profile_of]
    assert [reading for reading in NAMED if OWN[crop].band(reading) != profile.band(reading)] != []


@pytest.mark.parametrize("crop", REFERENCE.crops)
def test_a_band_without_a_source_is_called_judgement_or_common_practice(crop):
    bands = REFERENCE.crops[crop].bands.values()
    unnamed = [band for band in bands if band.source == NO_SOURCE and band.note]
    words = ("judgement", "from memory", "read:")
    assert [band for band in unnamed if not any(word in band.note["en"].lower() for word in words)] == []


@pytest.mark.parametrize("crop", OWN)
def test_young_plants_get_weaker_feed_than_grown_ones(crop):
    grown, seedling = (OWN[crop].band("feed_ec_ms_cm", stage) for stage in ("vegetative", "seedling"))
    germinating = OWN[crop].band("feed_ec_ms_cm", "germination")
    assert seedling.high <= grown.high
    assert germinating.high <= seedling.high


@pytest.mark.parametrize("crop", OWN)
@pytest.mark.parametrize("stage", ["germination", "seedling", "vegetative"])
def test_light_and_hours_of_a_stage_give_its_daily_light(crop, stage):
    band = OWN[crop].band
    light, hours, daily = (band(code, stage) for code in ("ppfd_umol_m2_s", "photoperiod_h", "dli_mol_m2_d"))
    middle = dli_mol_m2_d((light.low + light.high) / 2, (hours.low + hours.high) / 2)
    assert daily.wide_low <= middle <= daily.wide_high


def test_published_figures_lie_inside_the_tolerated_ranges():
    # Currey and others, Agronomy 2019, 9, 389 (read): 0.5 to 4.0 mS/cm made no difference, 18 mol beat 7.
    for herb in ("parsley", "coriander", "dill"):
        daily = OWN[herb].band("dli_mol_m2_d")
        assert daily.low <= 18 <= daily.high
        assert daily.low > 7
        assert OWN[herb].band("feed_ec_ms_cm").wide_low >= 0.5
    # Brazaitytė and others, Plants 2021, 10(4), 801 (read): microgreens at 220 µmol for 18 h.
    assert (
        OWN["microgreens"].band("ppfd_umol_m2_s").low <= 220 <= OWN["microgreens"].band("ppfd_umol_m2_s").high
    )
    # Gold and Stanghellini 1985 (read): spinach roots die of Pythium from 21 °C, hardly at 17 °C.
    roots = OWN["spinach"].band("root_zone_temp_c")
    assert roots.low <= 17 <= roots.high < 21
    # Michigan State trials (read): petunia grown at 14 to 26 °C.
    air = OWN["petunia"].band("air_temp_c")
    assert air.wide_low <= 14
    assert air.wide_high >= 26
    # New England Greenhouse Update 2015 (read): 5.3 to 5.8 or 5.5 to 6.0 for iron-inefficient crops.
    assert OWN["petunia"].band("root_zone_ph").high <= 6.0
