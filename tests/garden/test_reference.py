"""The reference data: every file is read and checked, and a slip is named by file, entry and field."""

import dataclasses
import shutil
import threading
from pathlib import Path

import pytest
import yaml
from pydantic import ValidationError

import garden.reference
from garden.agronomy.air import vpd_air_kpa
from garden.agronomy.light import dli_mol_m2_d
from garden.agronomy.units import display
from garden.reference.loader import (
    ReferenceDataError,
    bundled_reference,
    check_all,
    load_folder,
    load_reference,
    using_reference,
)
from garden.reference.schema import NO_SOURCE, text

FOLDER = Path(garden.reference.__file__).parent
REFERENCE = load_reference()
BANDS = [
    (crop.code, stage, reading, band)
    for crop in REFERENCE.crops.values()
    for stage, bands in [(None, crop.bands), *((code, s.bands) for code, s in crop.stages.items())]
    for reading, band in bands.items()
]
STAGES = [None, *REFERENCE.stages]


@pytest.fixture
def copy(tmp_path):
    """A copy of the data in which one file can be spoilt."""
    folder = tmp_path / "reference"
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    return folder


def spoil(folder, name, change):
    path = folder / name
    content = yaml.safe_load(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(yaml.safe_dump(content, allow_unicode=True), encoding="utf-8")


def entry(content, code, key="code"):
    return next(item for item in content if item[key] == code)


def refusal(folder):
    with pytest.raises(ReferenceDataError) as caught:
        load_folder(folder)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith(".")
    return caught.value


def test_every_file_is_read_and_counted():
    counts = check_all()
    files = list((FOLDER / "crops").glob("*.yaml"))
    assert counts["crops"] == len(files)
    assert counts["bands"] > 100
    assert all(count > 0 for count in counts.values())


def test_the_vocabulary_of_the_case_file_is_there():
    assert {"basil", "lettuce", "tomato", "pepper", "cucumber", "strawberry", "mint"} <= set(REFERENCE.crops)
    assert set(REFERENCE.profiles) == {"generic-leafy", "generic-fruiting", "generic-ornamental"}
    assert set(REFERENCE.profiles) <= set(REFERENCE.crops)
    assert list(REFERENCE.stages) == [
        "germination",
        "seedling",
        "cutting",
        "young-plant",
        "vegetative",
        "flowering",
        "fruiting",
    ]
    assert {code for code, reading in REFERENCE.readings.items() if reading.derived} == {
        "vpd_kpa",
        "dli_mol_m2_d",
        "ec_rise_ms_cm",
    }


def test_bands_are_ordered_and_inside_the_physical_limits():
    wrong = []
    for crop, stage, reading, band in BANDS:
        limits = REFERENCE.readings[reading]
        if not limits.min <= band.wide_low <= band.low <= band.high <= band.wide_high <= limits.max:
            wrong.append((crop, stage, reading))
    assert wrong == []


def test_every_band_names_a_source_that_exists():
    known = {NO_SOURCE, *REFERENCE.sources}
    assert [(crop, stage, reading) for crop, stage, reading, band in BANDS if band.source not in known] == []


@pytest.mark.parametrize("crop", REFERENCE.crops)
@pytest.mark.parametrize("stage", STAGES)
def test_every_crop_has_a_band_for_every_reading_in_every_stage(crop, stage):
    assert [code for code in REFERENCE.readings if REFERENCE.crops[crop].band(code, stage) is None] == []


@pytest.mark.parametrize("crop", [code for code, crop in REFERENCE.crops.items() if not crop.is_profile])
@pytest.mark.parametrize(
    "reading", ["feed_ec_ms_cm", "ppfd_umol_m2_s", "dli_mol_m2_d", "vpd_kpa", "rh_percent"]
)
def test_young_plants_are_never_held_to_the_bands_of_grown_ones(crop, reading):
    profile = REFERENCE.profiles[REFERENCE.crops[crop].profile_of]
    for stage in ("germination", "seedling", "cutting"):
        if profile.band(reading, stage) != profile.band(reading):
            assert REFERENCE.crops[crop].band(reading, stage) != REFERENCE.crops[crop].band(reading)


@pytest.mark.parametrize("crop", REFERENCE.crops)
@pytest.mark.parametrize("stage", STAGES)
def test_bands_that_belong_together_can_be_met_together(crop, stage):
    band = REFERENCE.crops[crop].band
    light, hours, dli = (band(code, stage) for code in ("ppfd_umol_m2_s", "photoperiod_h", "dli_mol_m2_d"))
    assert dli_mol_m2_d(light.low, hours.low) <= dli.high
    assert dli_mol_m2_d(light.high, hours.high) >= dli.low
    air, rh, vpd = (band(code, stage) for code in ("air_temp_c", "rh_percent", "vpd_kpa"))
    assert vpd_air_kpa(air.low, rh.high) <= vpd.high
    assert vpd_air_kpa(air.high, rh.low) >= vpd.low
    middle = vpd_air_kpa((air.low + air.high) / 2, (rh.low + rh.high) / 2)
    assert vpd.wide_low <= middle <= vpd.wide_high


def test_a_crop_without_its_own_band_takes_the_one_of_its_profile():
    pepper, profile = REFERENCE.crops["pepper"], REFERENCE.profiles["generic-fruiting"]
    assert pepper.band("co2_ppm") == profile.band("co2_ppm")
    assert pepper.band("rh_percent", "seedling") == profile.band("rh_percent", "seedling")


def test_a_crops_own_band_wins_over_the_profiles_band_of_a_stage():
    strawberry, profile = REFERENCE.crops["strawberry"], REFERENCE.profiles["generic-fruiting"]
    assert profile.band("feed_ec_ms_cm", "fruiting").low > strawberry.band("feed_ec_ms_cm", "fruiting").high


def test_a_stage_without_its_own_band_takes_the_crops():
    lettuce = REFERENCE.crops["lettuce"]
    assert lettuce.band("root_zone_ph", "seedling") == lettuce.band("root_zone_ph")
    assert lettuce.band("root_zone_ph", "no-such-stage") == lettuce.band("root_zone_ph")
    assert lettuce.band("no_such_reading") is None


@pytest.mark.parametrize("reading", REFERENCE.readings.values(), ids=lambda reading: reading.code)
def test_the_us_unit_of_a_reading_is_the_one_it_is_shown_in(reading):
    assert display(1.0, reading.unit, "us")[1] == (reading.us_unit or reading.unit)


def test_published_porosities_are_not_exceeded():
    # Published totals (read): peat 0.928 to 0.98, rockwool 0.974.
    assert (
        REFERENCE.media["peat-perlite"].container_capacity + REFERENCE.media["peat-perlite"].air_space < 0.98
    )
    assert REFERENCE.media["rockwool"].container_capacity + REFERENCE.media["rockwool"].air_space < 0.974


def test_loaded_entries_cannot_be_changed():
    with pytest.raises(ValidationError):
        REFERENCE.crops["basil"].code = "other"
    with pytest.raises(TypeError):
        REFERENCE.crops["new"] = REFERENCE.crops["basil"]


def test_a_text_falls_back_to_english():
    words = {"en": "leaf", "de": "Blatt"}
    assert [text(words), text(words, "de"), text(words, "de-at"), text(words, "fr")] == [
        "leaf",
        "Blatt",
        "Blatt",
        "leaf",
    ]


def test_a_misspelt_key_is_named_with_the_right_spelling(copy):
    def misspell(content):
        item = entry(content, "coco")
        item["container_capasity"] = item.pop("container_capacity")

    spoil(copy, "media.yaml", misspell)
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == ("media.yaml", "coco", "container_capasity")
    assert "did you mean “container_capacity”" in str(error)


def test_a_misspelt_key_deep_in_a_crop_is_named_with_its_path(copy):
    def misspell(content):
        band = content["stages"]["seedling"]["bands"]["feed_ec_ms_cm"]
        band["lwo"] = band.pop("low")

    spoil(copy, "crops/basil.yaml", misspell)
    error = refusal(copy)
    assert (error.file, error.entry) == ("crops/basil.yaml", "basil")
    assert error.field == "stages.seedling.bands.feed_ec_ms_cm.lwo"


def test_a_missing_field_is_named(copy):
    spoil(copy, "stages.yaml", lambda content: entry(content, "seedling").pop("name"))
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == ("stages.yaml", "seedling", "name")
    assert "required and missing" in str(error)


def test_an_unknown_source_is_named(copy):
    spoil(
        copy, "crops/tomato.yaml", lambda content: content["bands"]["root_zone_ph"].update(source="hearsay")
    )
    error = refusal(copy)
    assert (error.file, error.entry) == ("crops/tomato.yaml", "tomato")
    assert error.field == "bands.root_zone_ph.source"
    assert "hearsay" in str(error)


@pytest.mark.parametrize(
    ("name", "code", "field"), [("media.yaml", "coco", "source"), ("lamps.yaml", "hps", "lux_source")]
)
def test_an_unknown_source_in_a_list_file_is_named(copy, name, code, field):
    spoil(copy, name, lambda content: entry(content, code).update({field: "hearsay"}))
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == (name, code, field)


@pytest.mark.parametrize(
    ("change", "field"),
    [({"low": 7, "high": 6}, "high"), ({"wide_low": 6.2}, "wide_low"), ({"wide_high": 5.8}, "wide_high")],
)
def test_an_inverted_band_is_named_by_the_edge_that_is_wrong(copy, change, field):
    def invert(content):
        content["bands"]["root_zone_ph"].update({"low": 6, "high": 6.1, **change})

    spoil(copy, "crops/mint.yaml", invert)
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == (
        "crops/mint.yaml",
        "mint",
        f"bands.root_zone_ph.{field}",
    )


def test_a_band_outside_the_physical_limits_is_named(copy):
    spoil(copy, "crops/mint.yaml", lambda content: content["bands"]["root_zone_ph"].update(wide_high=15))
    error = refusal(copy)
    assert error.field == "bands.root_zone_ph.wide_high"
    assert "physical limits" in str(error)


def test_limits_of_a_reading_that_cross_are_named(copy):
    spoil(copy, "readings.yaml", lambda content: entry(content, "rh_percent").update(usual_max=110))
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == ("readings.yaml", "rh_percent", "usual_max")


@pytest.mark.parametrize(("field", "unit"), [("unit", "furlong"), ("us_unit", "fl oz")])
def test_a_unit_that_cannot_be_is_named(copy, field, unit):
    spoil(copy, "readings.yaml", lambda content: entry(content, "air_temp_c").update({field: unit}))
    error = refusal(copy)
    assert (error.file, error.entry) == ("readings.yaml", "air_temp_c")
    assert unit in str(error)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda crop: crop["bands"].update(soil_mood=crop["bands"]["root_zone_ph"]), "bands.soil_mood"),
        (lambda crop: crop["stages"].update(dotage={"bands": {}}), "stages.dotage"),
        (lambda crop: crop.update(profile_of="lettuce"), "profile_of"),
        (lambda crop: crop.update(code="spearmint"), "code"),
        (lambda crop: crop.update(name={"de": "Minze"}), "name"),
        (lambda crop: crop["bands"]["root_zone_ph"].update(low="sour"), "bands.root_zone_ph.low"),
        (lambda crop: crop["bands"]["root_zone_ph"].update(low=float("nan")), "bands.root_zone_ph.low"),
    ],
)
def test_other_slips_in_a_crop_are_named_by_their_field(copy, change, field):
    spoil(copy, "crops/mint.yaml", change)
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == ("crops/mint.yaml", "mint", field)


def test_a_code_used_twice_is_named(copy):
    spoil(copy, "systems.yaml", lambda content: content.append(dict(entry(content, "nft"))))
    error = refusal(copy)
    assert (error.file, error.entry, error.field) == ("systems.yaml", "nft", "code")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("systems.yaml", "- {code: nft, code: raft}", "written twice"),
        ("systems.yaml", "- {code: nft", "not valid YAML"),
        ("systems.yaml", "code: nft", "list of entries"),
        ("systems.yaml", "- nft", "valid dictionary"),
    ],
)
def test_a_file_that_is_not_what_it_should_be_is_named(copy, name, content, words):
    (copy / name).write_text(content, encoding="utf-8")
    error = refusal(copy)
    assert error.file == name
    assert words in str(error)


def test_a_missing_file_is_named(copy):
    (copy / "lamps.yaml").unlink()
    error = refusal(copy)
    assert error.file == "lamps.yaml"
    assert "does not exist" in str(error)


def test_other_data_is_in_use_only_inside_its_context_and_only_in_its_thread():
    other, seen = dataclasses.replace(REFERENCE), []
    with using_reference(other):
        assert load_reference() is other
        thread = threading.Thread(target=lambda: seen.append(load_reference()))
        thread.start()
        thread.join()
    assert seen[0] is bundled_reference()
    assert load_reference() is bundled_reference()


def test_the_bundled_data_is_in_use_again_after_a_failure():
    with pytest.raises(ZeroDivisionError), using_reference(dataclasses.replace(REFERENCE)):
        raise ZeroDivisionError
    assert load_reference() is bundled_reference()
