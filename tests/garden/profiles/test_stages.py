"""A profile's limits in one stage of growth: what holds, the page, and everywhere they are used."""

import json

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.services import reading_record
from consults.models import Shop
from consults.plans.services import plan_draft, plan_issue
from consults.ruleset.loader import load_bundled
from garden.access import Role
from garden.bench.prefill import garden_facts
from garden.bench.said import band_of
from garden.models import CropProfile
from garden.profiles.limits import EDGES, OFFERED, standing
from garden.profiles.selectors import own_crop, profile_lines, reference_current
from garden.profiles.services import ProfileRefused, profile_save, profile_stage_save
from garden.reference.loader import (
    ReferenceDataError,
    bundled_reference,
    load_crop,
    load_reference,
    using_reference,
)
from garden.reference.schema import NO_SOURCE
from tests.factories import client_of, make_case, make_planting, make_staff

pytestmark = pytest.mark.django_db
COOL = {"wide_low": 12.0, "low": 15.0, "high": 20.0, "wide_high": 24.0}
WARM = {"wide_low": 20.0, "low": 26.0, "high": 31.0, "wide_high": 34.0}
WEAK = {"wide_low": 0.2, "low": 0.4, "high": 0.8, "wide_high": 1.2}
STAGES = list(bundled_reference().stages)


@pytest.fixture
def manager():
    return make_staff(Role.MANAGER)


@pytest.fixture
def client():
    return client_of("manager")


def save(by, bands=None, stages=None, name="Cool basil", based_on="basil"):
    row = profile_save(name=name, based_on=based_on, bands=bands or {}, by=by)
    for stage, special in (stages or {}).items():
        row = profile_stage_save(profile=row, stage=stage, bands=special, by=by)
    return row


def crop_now(code="cool-basil"):
    return reference_current().crops[code]


# --- what holds -----------------------------------------------------------------------------------
def test_a_band_of_a_stage_holds_in_that_stage_only(manager):
    save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    crop = crop_now()
    assert crop.band("air_temp_c", "seedling").low == 26
    assert crop.band("air_temp_c", "vegetative").low == 15
    assert crop.band("air_temp_c").low == 15
    assert crop.band("feed_ec_ms_cm", "seedling") == bundled_reference().crops["basil"].band(
        "feed_ec_ms_cm", "seedling"
    )


def test_what_is_taken_back_falls_to_this_profile_then_to_the_parents_stage_then_to_all_its_stages(manager):
    basil = bundled_reference().crops["basil"]
    row = save(manager, {"air_temp_c": COOL}, {"germination": {"air_temp_c": WARM}})
    assert crop_now().band("air_temp_c", "germination").low == 26
    row = profile_stage_save(profile=row, stage="germination", bands={}, by=manager)
    assert row.stages == {}
    assert crop_now().band("air_temp_c", "germination").low == 15
    profile_save(profile=row, name="Cool basil", bands={}, by=manager)
    assert crop_now().band("air_temp_c", "germination") == basil.stages["germination"].bands["air_temp_c"]
    assert crop_now().band("air_temp_c", "seedling") == basil.bands["air_temp_c"]


def test_changing_what_holds_in_all_stages_leaves_the_stages_as_they_are(manager):
    row = save(manager, {}, {"seedling": {"air_temp_c": WARM}, "cutting": {"air_temp_c": COOL}})
    profile_save(profile=row, name="Cool basil", bands={"air_temp_c": COOL}, by=manager)
    row.refresh_from_db()
    assert row.stages == {"seedling": {"air_temp_c": WARM}, "cutting": {"air_temp_c": COOL}}


def test_changes_made_from_copies_of_one_moment_lose_nothing_of_each_other(manager):
    save(manager)
    first, second, third = (CropProfile.objects.get() for _copy in range(3))
    profile_stage_save(profile=first, stage="seedling", bands={"air_temp_c": WARM}, by=manager)
    profile_stage_save(profile=second, stage="cutting", bands={"air_temp_c": WARM}, by=manager)
    profile_save(profile=third, name="Cool basil", bands={"air_temp_c": COOL}, by=manager)
    assert set(CropProfile.objects.get().stages) == {"seedling", "cutting"}


def test_a_profile_made_from_an_own_one_takes_over_its_stages(manager):
    save(manager, {}, {"seedling": {"air_temp_c": WARM}})
    save(manager, {}, {"cutting": {"air_temp_c": COOL}}, name="Cold basil", based_on="cool-basil")
    crop = crop_now("cold-basil")
    assert (crop.band("air_temp_c", "seedling").low, crop.band("air_temp_c", "cutting").low) == (26, 15)


@pytest.mark.parametrize("based_on", ["basil", "tomato", "generic-ornamental", "warm-lettuce"])
@pytest.mark.parametrize("stage", ["", *STAGES])
def test_what_is_greyed_is_what_holds_when_it_is_left_empty(manager, based_on, stage):
    save(
        manager,
        {"feed_ph": {"wide_low": 5.0, "low": 5.4, "high": 5.9, "wide_high": 6.4}},
        {"seedling": {"feed_ec_ms_cm": WEAK}},
        name="Warm lettuce",
        based_on="lettuce",
    )
    crops = reference_current().crops
    bands = {} if stage == "" else {"air_temp_c": COOL, "feed_ec_ms_cm": WEAK}
    row = CropProfile(code="fresh", name="Fresh", based_on=based_on, bands=bands)
    crop = own_crop(row, crops)
    said = standing(crops[based_on], bands, stage)
    held = {code: crop.band(code, stage or None) for code in OFFERED}
    assert {code: found.edges for code, found in said.items()} == {
        code: {edge: getattr(band, edge) for edge in EDGES} for code, band in held.items() if band
    }


def test_whose_limits_are_greyed_is_said():
    basil = bundled_reference().crops["basil"]
    said = standing(basil, {"feed_ph": COOL}, "seedling")
    assert said["feed_ph"].whose == "this profile, all stages"
    assert said["feed_ec_ms_cm"].whose == "Basil, Seedling"
    assert said["air_temp_c"].whose == "Basil, all stages"
    assert standing(basil, {"air_temp_c": COOL})["air_temp_c"].whose == "Basil, all stages"


# --- one loader, one set of checks ----------------------------------------------------------------
def raw(**changes):
    band = {**COOL, "source": NO_SOURCE}
    return {
        "code": "trial", "name": {"en": "Trial"}, "profile_of": "generic-leafy", "latin": None, "notes": None,
        "bands": {}, "stages": {"seedling": {"bands": {"air_temp_c": band}}}, **changes,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("stages", "field"),
    [
        ({"sprouting": {"bands": {}}}, "stages.sprouting"),
        ({"seedling": {"bands": {"mood": {**COOL, "source": NO_SOURCE}}}}, "stages.seedling.bands.mood"),
        (
            {"seedling": {"bands": {"air_temp_c": {**COOL, "low": 21.0, "source": NO_SOURCE}}}},
            "stages.seedling.bands.air_temp_c.high",
        ),
        (
            {"seedling": {"bands": {"air_temp_c": {**COOL, "wide_high": 61.0, "source": NO_SOURCE}}}},
            "stages.seedling.bands.air_temp_c.wide_high",
        ),
        ({"seedling": {"bands": {"air_temp_c": {**COOL, "source": "nowhere"}}}}, "air_temp_c.source"),
    ],
)
def test_a_crop_from_elsewhere_is_checked_as_the_bundled_ones_are(stages, field):
    bundled = bundled_reference()
    basil = bundled.crops["basil"]
    assert (
        load_crop(raw(), file="here", base=basil, reference=bundled).band("air_temp_c", "seedling").low == 15
    )
    with pytest.raises(ReferenceDataError, match=r"^In here, entry “trial”, field “.*$") as refused:
        load_crop(raw(stages=stages), file="here", base=basil, reference=bundled)
    assert refused.value.field.endswith(field)


def test_own_profiles_pass_through_that_loader(manager, monkeypatch):
    seen = []
    monkeypatch.setattr(
        "garden.profiles.selectors.load_crop", lambda raw, **kw: seen.append(raw) or load_crop(raw, **kw)
    )
    save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    assert seen[-1]["stages"]["seedling"]["bands"]["air_temp_c"]["low"] == 26


def test_a_profile_stored_with_a_stage_nobody_knows_is_left_out_and_told(manager, caplog):
    save(manager)
    CropProfile.objects.create(
        code="odd", name="Odd", based_on="basil", stages={"sprouting": {"air_temp_c": COOL}}
    )
    assert "cool-basil" in reference_current().crops
    assert "odd" not in reference_current().crops
    assert "The crop profile odd cannot be used" in caplog.text


@pytest.mark.parametrize(
    "bands",
    [
        {"air_temp_c": {**COOL, "low": 21.0}},
        {"air_temp_c": {**COOL, "wide_high": 61.0}},
        {"air_temp_c": {"low": 15.0}},
        {"co2_ppm": {"wide_low": 300.0, "low": 400.0, "high": 900.0, "wide_high": 1000.0}},
    ],
)
def test_limits_of_a_stage_out_of_order_impossible_incomplete_or_not_offered_are_refused(manager, bands):
    row = save(manager)
    with pytest.raises(ProfileRefused):
        profile_stage_save(profile=row, stage="seedling", bands=bands, by=manager)
    row.refresh_from_db()
    assert row.stages == {}


def test_an_unknown_stage_and_a_profile_that_is_gone_are_refused(manager):
    row = save(manager)
    with pytest.raises(ProfileRefused, match="no such stage"):
        profile_stage_save(profile=row, stage="sprouting", bands={}, by=manager)
    CropProfile.objects.all().delete()
    with pytest.raises(ProfileRefused, match="removed in the meantime"):
        profile_stage_save(profile=row, stage="seedling", bands={}, by=manager)


@pytest.mark.parametrize("role", [Role.COUNTER, Role.CONSULTANT])
def test_only_a_manager_writes_the_limits_of_a_stage(manager, role):
    row = save(manager)
    with pytest.raises(PermissionDenied):
        profile_stage_save(profile=row, stage="seedling", bands={}, by=make_staff(role))
    url = reverse("profile-stage", args=[row.pk, "seedling"])
    assert client_of(role).get(url).status_code == client_of(role).post(url, {}).status_code == 403


# --- the page -------------------------------------------------------------------------------------
def page_of(row, stage="seedling"):
    return reverse("profile-stage", args=[row.pk, stage])


def typed(reading, *values):
    return {f"{reading}__{edge}": value for edge, value in zip(EDGES, values, strict=True)}


def post(client, url, **changes):
    form = client.get(url).context["form"]
    return client.post(url, {**{name: form[name].value() or "" for name in form.fields}, **changes})


def line(client, url, reading):
    return next(row for row in client.get(url).context["form"].rows() if row.code == reading)


def test_one_stage_stands_on_a_page_and_tabs_lead_to_the_others(client, manager):
    row = save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM, "feed_ec_ms_cm": WEAK}})
    page = client.get(page_of(row)).content.decode()
    assert page.count('<details class="band"') == len(OFFERED)
    assert page.count('name="air_temp_c__low"') == 1
    assert all(f'href="{page_of(row, stage)}"' in page for stage in STAGES)
    assert page.count('aria-current="page"') == 1
    counts = {tab.code: tab.count for tab in client.get(page_of(row)).context["tabs"]}
    assert counts == {"": 1, **dict.fromkeys(STAGES, 0), "seedling": 2}


def test_an_unknown_stage_is_a_missing_page(client, manager):
    assert client.get(page_of(save(manager), "sprouting")).status_code == 404


def test_a_line_says_what_holds_and_what_would_hold_if_it_were_empty(client, manager):
    row = save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    own = line(client, page_of(row), "air_temp_c")
    assert (own.holds, own.own, own.greyed) == (
        "26.0 to 31.0 °C",
        True,
        ("15.0 to 20.0 °C", "12.0 to 24.0 °C"),
    )
    assert own.whose == "this profile, all stages"
    assert [field.value() for field in own.fields] == ["20", "26", "31", "34"]
    placeholders = [field.field.widget.attrs["placeholder"] for field in own.fields]
    assert placeholders == ["12", "15", "20", "24"]
    taken = line(client, page_of(row), "feed_ec_ms_cm")
    assert (taken.holds, taken.own, taken.whose) == ("0.50 to 1.00 mS/cm", False, "Basil, Seedling")


def test_all_stages_say_where_the_crop_underneath_wants_something_else(client, manager):
    row = save(manager)
    warned = line(client, reverse("profile-edit", args=[row.pk]), "air_temp_c").stages_apart
    assert warned == "Germination"
    assert line(client, page_of(row), "air_temp_c").stages_apart == ""


def test_limits_of_a_stage_are_saved_and_the_page_stays_there(client, manager):
    row = save(manager)
    answer = post(client, page_of(row), **typed("air_temp_c", "20", "26", "31", "34"))
    assert answer.url == page_of(row)
    row.refresh_from_db()
    assert (row.bands, row.stages) == ({}, {"seedling": {"air_temp_c": WARM}})
    assert "saved for Seedling" in client.get(page_of(row)).content.decode()


@pytest.mark.parametrize("how", [typed("air_temp_c", "", "", "", ""), {"air_temp_c__drop": "on"}])
def test_emptying_a_line_or_ticking_its_removal_takes_the_limits_back(client, manager, how):
    row = save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM, "feed_ec_ms_cm": WEAK}})
    assert post(client, page_of(row), **how).status_code == 302
    row.refresh_from_db()
    assert row.stages == {"seedling": {"feed_ec_ms_cm": WEAK}}
    assert crop_now().band("air_temp_c", "seedling").low == 15


def test_a_mistake_in_a_line_that_is_removed_does_not_matter(client, manager):
    row = save(manager, {}, {"seedling": {"air_temp_c": WARM}})
    sent = {**typed("air_temp_c", "20", "x", "31", "34"), "air_temp_c__drop": "on"}
    assert post(client, page_of(row), **sent).status_code == 302
    row.refresh_from_db()
    assert row.stages == {}


@pytest.mark.parametrize(
    ("values", "field", "message"),
    [
        (("20", "26", "25", "34"), "high", "must not be below “Comfortable from”, which is 26"),
        (("20", "warm", "31", "34"), "low", "is not one clear number"),
        (("20", "26", "31", "70"), "wide_high", "it must be from -20 to 60 °C"),
        (("", "", "", "25"), "wide_high", "does not fit with the greyed “Comfortable to”, 27"),
    ],
)
def test_a_mistake_is_told_by_its_field_and_nothing_typed_is_lost(client, manager, values, field, message):
    row = save(manager)
    sent = {**typed("air_temp_c", *values), **typed("feed_ec_ms_cm", "0,2", "0,4", "0,8", "1,2")}
    answer = post(client, page_of(row), **sent)
    form = answer.context["form"]
    assert answer.status_code == 422
    assert list(form.errors) == [f"air_temp_c__{field}"]
    assert message in form.errors[f"air_temp_c__{field}"][0]
    assert {name: form[name].value() for name in sent} == sent
    assert {line.code for line in form.rows() if line.open} == {"air_temp_c", "feed_ec_ms_cm"}
    row.refresh_from_db()
    assert row.stages == {}


def test_a_us_shop_reads_and_types_the_limits_of_a_stage_in_fahrenheit(client, manager):
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    row = save(manager, {"air_temp_c": COOL})
    own = line(client, page_of(row), "air_temp_c")
    # Exact by definition: °F = °C × 1.8 + 32.
    assert [field.field.widget.attrs["placeholder"] for field in own.fields] == ["53.6", "59", "68", "75.2"]
    assert own.greyed[0] == "59.0 to 68.0 °F"
    post(client, page_of(row), **typed("air_temp_c", "68", "78.8", "87.8", "34 °C"))
    row.refresh_from_db()
    assert row.stages == {"seedling": {"air_temp_c": pytest.approx(WARM)}}
    post(client, page_of(row))
    before = row.stages
    row.refresh_from_db()
    assert row.stages == before


def test_the_list_names_the_limits_of_each_stage(client, manager):
    save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    (found,) = profile_lines("metric")
    assert found.count == 2
    assert found.limits == (
        ("", (("Air temperature by day", "15.0 to 20.0 °C", "12.0 to 24.0 °C"),)),
        ("Seedling", (("Air temperature by day", "26.0 to 31.0 °C", "20.0 to 34.0 °C"),)),
    )
    page = client.get(reverse("profiles")).content.decode()
    assert "2 limits of its own" in page
    assert "26.0 to 31.0 °C" in page


def test_a_profile_with_limits_in_every_stage_asks_the_database_as_often(client, manager):
    row = save(manager, {}, {"seedling": {"air_temp_c": WARM}})
    case = make_case(make_planting(crop="cool-basil", stage="seedling"))
    urls = [page_of(row), reverse("profile-edit", args=[row.pk]), reverse("profiles")]
    urls.append(reverse("case", args=[case.pk]))
    few = [asked(client, url) for url in urls]
    for stage in STAGES:
        profile_stage_save(profile=row, stage=stage, bands={"air_temp_c": WARM}, by=manager)
    assert [asked(client, url) for url in urls] == few


def asked(client, url):
    client.get(url)  # what is kept between two pages is there
    with CaptureQueriesContext(connection) as found:
        assert client.get(url).status_code == 200
    return len(found)


# --- where it is used -----------------------------------------------------------------------------
def case_of(stage, code, value, unit):
    case = make_case(make_planting(crop="cool-basil", stage=stage))
    reading_record(case=case, quantity=code, value=value, typed=f"{value}", unit=unit, by=None)
    return case


def heat(case):
    with using_reference(reference_current()):
        ranking = rank_case(casefile_from_rows(case), load_bundled(), load_reference())
    return next(cause.probability for cause in ranking.causes if cause.code == "heat-stress")


def test_diagnosis_judges_a_reading_by_the_limits_of_the_stage(manager):
    save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    seedling, grown = (case_of(stage, "air_temp_c", 27.0, "°C") for stage in ("seedling", "vegetative"))
    assert heat(grown) > 2 * heat(seedling)


def test_the_bench_aims_at_the_limits_of_the_stage(manager):
    save(manager, {}, {"seedling": {"feed_ec_ms_cm": WEAK}})
    seedling, grown = (make_planting(crop="cool-basil", stage=stage) for stage in ("seedling", "vegetative"))
    with using_reference(reference_current()):
        # The middle of 0.4 to 0.8 mS/cm, and of the basil's own 1.0 to 1.6.
        assert garden_facts(seedling.pk).known["target_ec_ms_cm"] == 0.6
        assert garden_facts(grown.pk).known["target_ec_ms_cm"] == 1.3
        assert band_of("cool-basil", "seedling", "feed_ec_ms_cm").high == 0.8


def test_a_question_of_the_bench_is_answered_by_the_limits_of_the_stage(client, manager):
    dry = {"wide_low": 1.1, "low": 1.7, "high": 1.9, "wide_high": 2.3}
    save(manager, {}, {"seedling": {"vpd_kpa": dry}})
    sent = {"air_temp_c": "22", "rh_percent": "70", "crop": "cool-basil"}
    url = reverse("bench-tool", args=["air-dryness"])
    pages = [
        client.get(url, {**sent, "stage": stage}).content.decode() for stage in ("seedling", "vegetative")
    ]
    assert ["Cool basil likes 1.7 to 1.9 kPa" in page for page in pages] == [True, False]


def test_the_case_page_shows_the_limits_of_the_stage(client, manager):
    save(manager, {"air_temp_c": COOL}, {"seedling": {"air_temp_c": WARM}})
    pages = [
        client.get(reverse("case", args=[case_of(stage, "air_temp_c", 27.0, "°C").pk])).content.decode()
        for stage in ("seedling", "vegetative")
    ]
    assert ["26.0 to 31.0" in page for page in pages] == [True, False]
    assert ["15.0 to 20.0" in page for page in pages] == [False, True]


def test_the_plan_quotes_the_limits_of_the_stage_and_aims_at_them(manager):
    save(manager, {}, {"seedling": {"feed_ec_ms_cm": WEAK}})
    by = make_staff("manager")
    with using_reference(reference_current()):
        snapshots = {}
        for stage in ("seedling", "vegetative"):
            case = case_of(stage, "feed_ec_ms_cm", 0.3, "mS/cm")
            plan = plan_draft(case=case, causes=["potassium-deficiency"], by=by)
            snapshots[stage] = plan_issue(plan=plan, by=by, send_email=False).snapshot
    readings = {
        stage: next(part for part in snapshot["readings"] if part["code"] == "feed_ec_ms_cm")
        for stage, snapshot in snapshots.items()
    }
    assert (readings["seedling"]["low"], readings["seedling"]["high"]) == (0.4, 0.8)
    assert (readings["vegetative"]["low"], readings["vegetative"]["high"]) == (1.0, 1.6)
    aimed = {stage: json.dumps(snapshot["actions"]) for stage, snapshot in snapshots.items()}
    assert ["EC 0.4 to 0.8" in aimed[stage] for stage in ("seedling", "vegetative")] == [True, False]
    assert "EC 1.0 to 1.6" in aimed["vegetative"]
