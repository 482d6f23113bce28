"""Rows and case files are the same case in two shapes."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from consults.cases.casefile import CaseFile, check_codes, read_case_file
from consults.cases.ranking import rank_case, ranking_json
from consults.cases.rows import case_import, casefile_from_rows
from consults.models import Case
from consults.ruleset.loader import load_bundled
from garden.models import Grower, Reading
from garden.reference.loader import load_reference
from tests.consults.cases.samples import BUNDLED, FULL, casefile, parse
from tests.factories import make_case, make_garden, make_planting, make_staff

pytestmark = pytest.mark.django_db


def held(case: CaseFile) -> dict[str, Any]:
    """What rows can hold: `expected` goes, nobody is a Walk-in, no space is a room, order goes."""
    data = case.model_dump(exclude={"expected"})
    data["grower"]["name"] = data["grower"]["name"] or "Walk-in"
    data["garden"]["space"] = data["garden"]["space"] or {
        "kind": "room", "length_m": None, "width_m": None, "height_m": None,
    }  # fmt: skip
    for part in (data["grower"], data["garden"]):
        part |= {key: None for key, value in part.items() if value == ""}
    for key in ("present", "absent", "practices"):
        data[key] = sorted(set(data[key]))
    return data


def round_trip(case: CaseFile) -> CaseFile:
    return casefile_from_rows(Case.objects.get(pk=case_import(casefile=case).pk))


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_a_bundled_case_comes_back_from_the_rows_and_ranks_the_same(path: Path) -> None:
    rules, reference = load_bundled(), load_reference()
    case = read_case_file(path, reference, rules)
    back = round_trip(case)
    assert held(back) == held(case)
    before, after = (ranking_json(rank_case(each, rules, reference), rules) for each in (case, back))
    assert after == before


def test_a_case_with_everything_in_it_comes_back_from_the_rows() -> None:
    case = parse(json.dumps(FULL))
    assert held(round_trip(case)) == held(case)


_R, _S = load_reference(), load_bundled()
_words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40)


def _maybe(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=fields)


def _amount(low: float, high: float, *, above: bool = False) -> st.SearchStrategy[float]:
    return st.floats(low, high, exclude_min=above, allow_nan=False)


@st.composite
def _case_files(draw: st.DrawFn) -> CaseFile:
    measured = {code: _amount(r.min, r.max) for code, r in _R.readings.items() if not r.derived}
    findings = draw(st.lists(st.sampled_from(sorted(_S.findings)), unique=True, max_size=8))
    cut = draw(st.integers(0, len(findings)))
    crop = draw(st.sampled_from([*_R.crops, "okra", "dwarf pomelo"]))
    profiles = st.sampled_from(sorted(_R.profiles))
    length = _amount(0, 1000, above=True)
    data = {
        "case_file": 1,
        "grower": draw(
            _maybe(name=_words, email=st.just("a@home.example"), phone=st.just("+1 555 0100"),
                   units=st.sampled_from(["metric", "us"]))
        ),
        "garden": draw(
            _maybe(
                name=_words,
                space=_maybe(kind=st.sampled_from(["tent", "window"]), length_m=length, height_m=length),
                lamps=st.lists(
                    _maybe(count=st.integers(1, 500), watts=_amount(0, 20000, above=True),
                           hours=_amount(0, 24),
                           photon_flux_umol_s=_amount(0, 1e6)).map(lambda lamp: {"type": "hps", **lamp}),
                    max_size=3,
                ),
                water=_maybe(source=st.sampled_from(["rain", "softened"]), ph=_amount(0, 14),
                             ec_ms_cm=_amount(0, 20)),
                feed=st.lists(
                    st.fixed_dictionaries({"product": _words.filter(bool)},
                                          optional={"ml_per_l": _amount(0, 1000)}),
                    max_size=3,
                ),
            )
        ),
        "planting": {
            "crop": crop,
            **({} if crop in _R.crops else {"profile": draw(profiles)}),
            **draw(
                _maybe(stage=st.sampled_from(sorted(_R.stages)), system=st.sampled_from(sorted(_R.systems)),
                       medium=st.sampled_from(sorted(_R.media)), plants=st.integers(1, 100_000),
                       container_l=_amount(0, 100_000, above=True), watering_volume_l=_amount(0, 1000))
            ),
        },
        "story": draw(_words),
        "present": findings[:cut],
        "absent": findings[cut:],
        "practices": draw(st.lists(st.sampled_from(sorted(_S.practices)), max_size=4)),
        "readings": draw(_maybe(**measured)),
        **draw(_maybe(onset_days=st.integers(0, 3650))),
    }  # fmt: skip
    return CaseFile.model_validate(data)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_case_files())
def test_any_case_comes_back_from_the_rows(case: CaseFile) -> None:
    check_codes(case, _R, _S)
    assert held(round_trip(case)) == held(case)


def test_the_same_case_file_again_is_the_same_case() -> None:
    first = case_import(casefile=parse(json.dumps(FULL)))
    assert case_import(casefile=parse(json.dumps(FULL))) == first
    assert (Case.objects.count(), Grower.objects.count()) == (1, 1)
    other = case_import(casefile=parse(json.dumps({**FULL, "story": "another"})))
    assert other != first


def test_consent_given_with_a_later_import_is_noted() -> None:
    case = case_import(casefile=parse(json.dumps(FULL)))
    assert not case.grower.may_be_emailed
    again = case_import(casefile=parse(json.dumps(FULL)), consent=True)
    assert again == case
    assert Grower.objects.get().may_be_emailed


def test_without_an_address_there_is_nothing_to_consent_to() -> None:
    case = case_import(casefile=casefile(), consent=True)
    assert case.grower.name == "Walk-in"
    assert case.grower.email_consent_at is None


def test_an_unusual_reading_is_imported_and_marked() -> None:
    by = make_staff()
    case = case_import(casefile=casefile(readings={"feed_ph": 9.4, "feed_ec_ms_cm": 1.5}), by=by)
    marked = {reading.quantity: reading.unusual for reading in case.readings.all()}
    assert marked == {"feed_ph": True, "feed_ec_ms_cm": False}
    assert {reading.entered_by for reading in case.readings.all()} == {by}
    assert case.opened_by == by


def test_of_two_readings_of_one_quantity_the_later_counts() -> None:
    case = make_case(make_planting())
    for value in (5.5, 6.5):
        case.readings.add(
            Reading.objects.create(planting=case.planting, quantity="feed_ph", value=value, typed="x")
        )
    assert casefile_from_rows(case).readings == {"feed_ph": 6.5}


def test_a_crop_never_given_a_profile_is_judged_as_a_leafy_crop() -> None:
    assert casefile_from_rows(make_case(make_planting(crop="okra"))).planting.profile == "generic-leafy"


def test_an_address_without_a_dot_does_not_keep_a_case_from_being_read() -> None:
    grower = Grower.objects.create(name="N", email="mara@localhost")
    case = make_case(make_planting(space=make_garden(grower).spaces.get()))
    assert casefile_from_rows(case).grower.email == "mara@localhost"


def test_a_case_file_takes_a_fixed_number_of_queries(django_assert_max_num_queries: Any) -> None:
    case = Case.objects.get(pk=case_import(casefile=parse(json.dumps(FULL))).pk)
    with django_assert_max_num_queries(12):
        casefile_from_rows(case)
