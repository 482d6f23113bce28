"""A case file that cannot be used is refused with a sentence for each field: what is wrong, what to do."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consults.cases.casefile import MAX_BYTES, CaseFile, CaseFileError, parse_case_file, read_case_file
from consults.cases.ranking import rank_case, ranking_json
from consults.ruleset.loader import load_bundled
from garden.reference.loader import load_reference
from tests.consults.cases.samples import BUNDLED, FULL, casefile, content, parse, problems


def test_only_the_crop_is_needed() -> None:
    assert casefile().planting.crop == "basil"
    assert problems({}) == {
        "case_file": "This field is needed.",
        "planting": "This field is needed.",
    }


def test_a_full_case_file_is_accepted() -> None:
    assert parse(json.dumps(FULL)).garden.lamps[0].count == 2


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_every_bundled_case_file_is_accepted_and_comes_out_as_it_went_in(path: Path) -> None:
    case = read_case_file(path, load_reference(), load_bundled())
    written = case.model_dump_json(exclude_none=True)
    assert parse(written) == case
    given = json.loads(path.read_text(encoding="utf-8"))
    kept = json.loads(written)
    assert {key: kept[key] for key in given if key in ("story", "present", "absent", "readings")} == {
        key: given[key] for key in given if key in ("story", "present", "absent", "readings")
    }


@pytest.mark.parametrize(
    ("parts", "field", "words"),
    [
        ({"present": ["interveinal-chlorosis-yuong"]}, "present.0", "mean interveinal-chlorosis-young"),
        ({"absent": ["fungus-gnat"]}, "absent.0", "fungus-gnats"),
        ({"practices": ["water-daily"]}, "practices.0", "waters-daily"),
        ({"present": ["zzz"]}, "present.0", "`manage.py vocabulary` lists them"),
        ({"planting": {"stage": "vegetativ"}}, "planting.stage", "vegetative"),
        ({"planting": {"system": "deepwater"}}, "planting.system", "deep-water"),
        ({"planting": {"medium": "rockwol"}}, "planting.medium", "rockwool"),
        ({"garden": {"lamps": [{"type": "led-whit"}]}}, "garden.lamps.0.type", "led-white"),
        ({"readings": {"root_zone_hp": 6}}, "readings.root_zone_hp", "root_zone_ph"),
        ({"readings": {"vpd_kpa": 1.0}}, "readings.vpd_kpa", "no reading"),
        ({"readings": {"root_zone_ph": 19}}, "readings.root_zone_ph", "from 0 to 14. Check the number"),
        ({"readings": {"rh_percent": 140}}, "readings.rh_percent", "from 0 to 100"),
        ({"readings": {"co2_ppm": 0}}, "readings.co2_ppm", "from 50 to 50000"),
        ({"readings": {"air_temp_c": "warm"}}, "readings.air_temp_c", "'warm' is not a number"),
        ({"readings": {"air_temp_c": True}}, "readings.air_temp_c", "not a number"),
        ({"readings": {"air_temp_c": None}}, "readings.air_temp_c", "not a number"),
        ({"readings": [7]}, "readings", "braces"),
        ({"planting": {"container_l": -3}}, "planting.container_l", "must be above 0"),
        ({"planting": {"watering_volume_l": -0.1}}, "planting.watering_volume_l", "at least 0"),
        ({"planting": {"plants": 2.5}}, "planting.plants", "not a whole number"),
        ({"planting": {"plants": 10**30}}, "planting.plants", "at most 100000"),
        ({"planting": {"watering_interval_days": 61}}, "planting.watering_interval_days", "at most 60"),
        ({"planting": {"crop": ""}}, "planting.crop", "must not be empty"),
        ({"onset_days": -1}, "onset_days", "at least 0"),
        ({"present": "tip-necrosis"}, "present", "square brackets"),
        ({"present": [3]}, "present.0", "quotation marks"),
        ({"story": "x" * 8001}, "story", "at most 8000 characters"),
        ({"story": 5}, "story", "quotation marks"),
        ({"story": "a\0b"}, "story", "null character. Remove it"),
        ({"story": "\ud800"}, "story", "broken character. Write it anew"),
        ({"grower": {"email": "not an address"}}, "grower.email", "looks like name@example.org"),
        ({"grower": {"units": "imperial"}}, "grower.units", "'metric' or 'us'"),
        ({"grower": None}, "grower", "braces"),
        ({"garden": {"feed": [{"product": "x" * 121}]}}, "garden.feed.0.product", "at most 120"),
        ({"garden": {"feed": [{"product": ""}]}}, "garden.feed.0.product", "must not be empty"),
        ({"garden": {"name": "x" * 121}}, "garden.name", "at most 120"),
        ({"garden": {"lamps": [{"type": "hps", "hours": 25}]}}, "garden.lamps.0.hours", "at most 24"),
        ({"colour": "green"}, "colour", "not known here. Remove it or check its spelling"),
        ({"planting": {"pot": 3}}, "planting.pot", "not known here"),
        ({"present": ["tip-necrosis"] * 301}, "present", "at most 300"),
    ],
)  # fmt: skip
def test_a_bad_field_is_named_with_the_remedy(parts: dict[str, Any], field: str, words: str) -> None:
    found = problems(content(**parts))
    assert list(found) == [field]
    assert words in found[field]
    assert found[field][-1] in ".?" or found[field].endswith("interveinal-chlorosis-young?")


def test_every_problem_is_named_at_once() -> None:
    bad = content(present=["nonsense"], readings={"feed_ph": 15}, practices=["nothing-known"])
    assert set(problems(bad)) == {"present.0", "readings.feed_ph", "practices.0"}


def test_a_crop_without_a_profile_asks_for_one_of_the_three_generic_ones() -> None:
    found = problems(content(planting={"crop": "okra"}))
    assert list(found) == ["planting.profile"]
    assert "okra" in found["planting.profile"]
    for profile in ("generic-leafy", "generic-fruiting", "generic-ornamental"):
        assert profile in found["planting.profile"]
        assert problems(content(planting={"crop": "okra", "profile": profile})) == {}


def test_a_finding_cannot_be_present_and_absent() -> None:
    found = problems(content(present=["tip-necrosis"], absent=["fungus-gnats", "tip-necrosis"]))
    assert found == {"absent": '"tip-necrosis" stands under present and under absent. Keep one of them.'}


@pytest.mark.parametrize(
    ("text", "field", "words"),
    [
        ("", "file", "not JSON"),
        ("crop: basil", "file", "line 1, column 1"),
        ('{"case_file": 1,', "file", "not JSON"),
        ("[]", "file", "one JSON object, in braces"),
        ("null", "file", "one JSON object"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "onset_days": NaN}', "file", "NaN is not a number"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "readings": {"feed_ph": -Infinity}}', "file",
         "-Infinity is not a number"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "readings": {"feed_ph": 1e999}}',
         "readings.feed_ph", "finite"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "readings": {"feed_ph": 1' + "0" * 400 + "}}",
         "readings.feed_ph", "not a number"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "onset_days": ' + "9" * 5000 + "}", "file",
         "thousands of digits"),
        ('{"case_file": 1, "planting": {"crop": "basil"}, "story": "a", "story": "b"}', "story",
         "stands there twice"),
        ('{"case_file": 1, "planting": {"crop": "basil", "crop": "mint"}}', "crop", "stands there twice"),
        ("[" * 200_000, "file", "nested too deeply"),
        ('{"a":' * 200_000, "file", "nested too deeply"),
        ('{"case_file": 2, "planting": {"crop": "basil"}}', "case_file", "Use one of 1"),
    ],
)  # fmt: skip
def test_a_text_that_is_no_case_file_is_refused_in_words(text: str, field: str, words: str) -> None:
    found = problems(text)
    assert list(found) == [field]
    assert words in found[field]


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b" " * (MAX_BYTES + 1), "larger than 1 MB"),
        (json.dumps(content()).encode("utf-16"), "not text in UTF-8. Save it as UTF-8"),
        (b'{"story": "\xff"}', "not text in UTF-8"),
    ],
)
def test_a_file_too_large_or_not_utf8_is_refused_in_words(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "case.json"
    path.write_bytes(raw)
    with pytest.raises(CaseFileError) as refused:
        read_case_file(path, load_reference(), load_bundled())
    assert words in str(refused.value)


def test_a_file_that_is_not_there_is_refused_in_words(tmp_path: Path) -> None:
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(CaseFileError, match="file: It cannot be read: "):
            read_case_file(path, load_reference(), load_bundled())


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(content()).encode())
    assert read_case_file(path, load_reference(), load_bundled()) == casefile()


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
_FIELDS = [*CaseFile.model_fields, "colour"]


def _accepts_or_explains(text: str) -> None:
    rules, reference = load_bundled(), load_reference()
    try:
        case = parse_case_file(text, reference, rules)
    except CaseFileError as error:
        assert error.problems
        assert all(problem.field and problem.message for problem in error.problems)
    else:
        json.dumps(ranking_json(rank_case(case, rules, reference), rules), allow_nan=False)


@given(_JSON)
def test_any_json_is_accepted_or_explained(value: Any) -> None:
    _accepts_or_explains(json.dumps(value))


@given(st.text(max_size=200))
def test_any_text_is_accepted_or_explained(text: str) -> None:
    _accepts_or_explains(text)


@settings(max_examples=200)
@given(st.dictionaries(st.sampled_from(_FIELDS), _JSON, max_size=5), st.dictionaries(
    st.sampled_from([*CaseFile.model_fields["planting"].annotation.model_fields]), _JSON, max_size=4,  # type: ignore[union-attr]
))  # fmt: skip
def test_a_case_file_with_any_values_in_its_fields_is_accepted_or_explained(
    parts: dict[str, Any], planting: dict[str, Any]
) -> None:
    _accepts_or_explains(json.dumps({"case_file": 1, **parts, "planting": {"crop": "basil", **planting}}))


@settings(max_examples=40, deadline=None)
@given(
    flux=st.floats(0, 1e6),
    count=st.integers(1, 500),
    hours=st.floats(0, 24),
    length=st.floats(1e-6, 1000),
    width=st.floats(1e-6, 1000),
    watts=st.none() | st.floats(1e-3, 20000),
)
def test_any_lamp_over_any_space_can_be_ranked(
    flux: float, count: int, hours: float, length: float, width: float, watts: float | None
) -> None:
    lamp: dict[str, Any] = {"type": "hps", "count": count, "hours": hours}
    lamp |= {"photon_flux_umol_s": flux} if watts is None else {"watts": watts}
    space = {"length_m": length, "width_m": width}
    _accepts_or_explains(json.dumps(content(garden={"space": space, "lamps": [lamp]})))
