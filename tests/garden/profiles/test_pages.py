"""The pages of own crop profiles: reading, the form with its messages, units, and what a profile changes."""

import json

import pytest
from django.urls import reverse

from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.services import reading_record
from consults.models import Shop
from consults.plans.services import plan_draft, plan_issue
from consults.ruleset.loader import load_bundled, reference_codes
from garden.models import CropProfile
from garden.profiles.limits import EDGES, OFFERED
from garden.profiles.selectors import reference_current
from garden.reference.loader import bundled_reference, load_reference, using_reference
from tests.factories import client_of, make_case, make_planting, make_staff

pytestmark = pytest.mark.django_db
OF_BASIL = "/shop/profiles/new/?based_on=basil"
COOL = {"wide_low": 12.0, "low": 15.0, "high": 20.0, "wide_high": 24.0}


@pytest.fixture
def client():
    return client_of("manager")


def sent(page, **changes):
    """What a browser sends when the form of a page is posted with these changes."""
    form = page.context["form"]
    fields = {name: form[name].value() or "" for name in form.fields}
    return {**fields, "name": "Cool basil", **changes}


def greyed(form, reading="air_temp_c"):
    return [form.fields[f"{reading}__{edge}"].widget.attrs["placeholder"] for edge in EDGES]


def air(*values):
    return {f"air_temp_c__{edge}": value for edge, value in zip(EDGES, values, strict=True)}


def post(client, url=OF_BASIL, **changes):
    return client.post(url, sent(client.get(url), **changes))


# --- rights ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_others_read_the_list_and_may_not_change_it(role):
    row = CropProfile.objects.create(
        code="cool", name="Cool one", based_on="basil", bands={"air_temp_c": COOL}
    )
    other = client_of(role)
    page = other.get(reverse("profiles"))
    assert "Cool one" in page.content.decode()
    assert "15.0 to 20.0 °C" in page.content.decode()
    assert "New profile" not in page.content.decode()
    for url in (OF_BASIL, reverse("profile-edit", args=[row.pk]), reverse("profile-delete", args=[row.pk])):
        assert other.post(url, {"name": "x"}).status_code == 403
    assert CropProfile.objects.get().name == "Cool one"


def test_the_shop_page_leads_to_the_profiles(client):
    assert reverse("profiles") in client.get(reverse("shop-settings")).content.decode()


# --- entering -------------------------------------------------------------------------------------
def test_a_new_profile_begins_with_what_it_is_based_on(client):
    page = client.get(reverse("profile-new"))
    choices = [code for code, _name in page.context["form"].fields["based_on"].choices]
    assert set(choices) == {"", *bundled_reference().crops}
    assert client.get(reverse("profile-new"), {"based_on": "moon-cabbage"}).status_code == 422


def test_the_form_shows_the_limits_of_the_base_in_grey(client):
    form = client.get(OF_BASIL).context["form"]
    band = bundled_reference().crops["basil"].band("air_temp_c")
    assert greyed(form) == [f"{getattr(band, edge):g}" for edge in EDGES]
    assert [form[f"air_temp_c__{edge}"].value() for edge in EDGES] == [""] * 4
    assert {name.split("__")[0] for name in form.fields if "__" in name} == set(OFFERED)


def test_only_what_was_changed_is_kept(client):
    answer = post(client, **air("12", "15,5", "20", "24"))
    assert answer.status_code == 302
    row = CropProfile.objects.get()
    assert row.bands == {"air_temp_c": {**COOL, "low": 15.5}}
    assert (row.code, row.based_on) == ("cool-basil", "basil")


def test_a_number_left_empty_beside_a_written_one_is_the_greyed_one(client):
    post(client, **air("", "22", "", ""))
    band = bundled_reference().crops["basil"].band("air_temp_c")
    assert CropProfile.objects.get().bands == {
        "air_temp_c": {
            "wide_low": band.wide_low,
            "low": 22.0,
            "high": band.high,
            "wide_high": band.wide_high,
        }
    }


def test_a_reading_the_base_has_no_limits_for_needs_all_four_numbers(client, monkeypatch):
    monkeypatch.setattr("garden.profiles.forms.standing", lambda *args: {})
    answer = post(client, **air("", "15", "20", "24"))
    assert list(answer.context["form"].errors) == ["air_temp_c__wide_low"]
    assert "Write this number too" in answer.context["form"].errors["air_temp_c__wide_low"][0]


def test_an_empty_row_is_taken_over_from_the_base(client):
    post(client, **air("12", "15", "20", "24"))
    row = CropProfile.objects.get()
    url = reverse("profile-edit", args=[row.pk])
    assert client.get(url).context["form"]["air_temp_c__low"].value() == "15"
    assert post(client, url, **air("", "", "", "")).status_code == 302
    row.refresh_from_db()
    assert row.bands == {}


@pytest.mark.parametrize(
    ("values", "field", "message"),
    [
        (("12", "15", "14", "24"), "high", "must not be below “Comfortable from”, which is 15"),
        (("16", "15", "20", "24"), "low", "must not be below “Tolerated from”, which is 16"),
        (("12", "15", "20", "19"), "wide_high", "must not be below “Comfortable to”, which is 20"),
        (("", "", "", "19"), "wide_high", "does not fit with the greyed “Comfortable to”, 27"),
        (("", "12", "", ""), "low", "does not fit with the greyed “Tolerated from”, 16"),
        (("12", "warm", "20", "24"), "low", "is not one clear number"),
        (("12", "15 mS/cm", "20", "24"), "low", "does not fit here"),
        (("12", "15", "20", "70"), "wide_high", "it must be from -20 to 60 °C"),
    ],
)
def test_a_mistake_is_told_beside_its_field_and_nothing_is_kept(client, values, field, message):
    answer = post(client, **air(*values))
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert list(errors) == [f"air_temp_c__{field}"]
    assert message in errors[f"air_temp_c__{field}"][0]
    assert not CropProfile.objects.exists()


def test_a_taken_name_is_told_beside_the_name(client):
    answer = post(client, name="Tomato")
    assert answer.status_code == 422
    assert "called “Tomato” already" in answer.context["form"].errors["name"][0]


# --- US units -------------------------------------------------------------------------------------
def test_a_us_shop_reads_and_types_fahrenheit(client):
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    form = client.get(OF_BASIL).context["form"]
    band = bundled_reference().crops["basil"].band("air_temp_c")
    # Exact by definition: °F = °C × 1.8 + 32.
    assert [float(edge) for edge in greyed(form)] == [
        pytest.approx(getattr(band, edge) * 1.8 + 32, abs=0.05) for edge in EDGES
    ]
    post(client, **air("53.6", "59", "68", "24 °C"))
    assert CropProfile.objects.get().bands == {"air_temp_c": pytest.approx(COOL)}
    answer = post(client, name="Hot", **air("53.6", "59", "68", "150"))
    assert "from -4 to 140 °F" in answer.context["form"].errors["air_temp_c__wide_high"][0]


def test_saving_unchanged_in_us_units_changes_no_number(client):
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    row = CropProfile.objects.create(
        code="odd", name="Odd", based_on="basil", bands={"air_temp_c": {**COOL, "low": 15.123}}
    )
    post(client, reverse("profile-edit", args=[row.pk]), name="Odd")
    row.refresh_from_db()
    assert row.bands == {"air_temp_c": {**COOL, "low": 15.123}}


# --- removing -------------------------------------------------------------------------------------
def test_a_profile_in_use_is_not_removed_and_the_page_says_why(client):
    post(client, **air("12", "15", "20", "24"))
    row, planting = CropProfile.objects.get(), make_planting(crop="cool-basil")
    answer = client.post(reverse("profile-delete", args=[row.pk]), follow=True)
    assert "1 planting is judged by it" in answer.content.decode()
    planting.delete()
    client.post(reverse("profile-delete", args=[row.pk]))
    assert not CropProfile.objects.exists()


# --- what it changes ------------------------------------------------------------------------------
def test_a_garden_is_offered_the_own_profile_and_keeps_it_by_its_code(client):
    post(client, **air("12", "15", "20", "24"))
    planting = make_planting()
    garden = planting.space.garden
    url = reverse("garden-edit", args=[garden.pk])
    page = client.get(url)
    assert '<option value="Cool basil">' in page.content.decode()
    fields = {bound.html_name: bound.value() or "" for part in page.context["screen"] for bound in part}
    crop = next(name for name in fields if name.endswith("-crop") or name == "crop")
    assert client.post(url, {**fields, crop: "cool BASIL"}).status_code == 302
    planting.refresh_from_db()
    assert planting.crop == "cool-basil"


def heat_of(client, crop, celsius):
    """A case of this crop in air so warm, and how likely heat stress is by its page's reckoning."""
    case = make_case(make_planting(crop=crop))
    reading_record(case=case, quantity="air_temp_c", value=celsius, typed=f"{celsius}", unit="°C", by=None)
    return lambda: likely(client, case)["heat-stress"]


def likely(client, case):
    client.get(reverse("case", args=[case.pk]))
    with using_reference(reference_current()):
        ranking = rank_case(casefile_from_rows(case), load_bundled(), load_reference())
    return {cause.code: cause.probability for cause in ranking.causes}


def test_a_case_is_judged_by_the_own_band_as_it_is_now(client):
    post(client, **air("12", "15", "20", "24"))
    cool, basil = heat_of(client, "cool-basil", 26.0), heat_of(client, "basil", 26.0)
    before = cool()
    assert before > 2 * basil()
    post(client, reverse("profile-edit", args=[CropProfile.objects.get().pk]), **air("16", "20", "27", "32"))
    assert cool() == pytest.approx(basil())


def test_an_own_profile_without_limits_of_its_own_is_ranked_as_the_crop_it_is_made_from(client):
    post(client)
    own, basil = (make_case(make_planting(crop=crop)) for crop in ("cool-basil", "basil"))
    assert likely(client, own) == pytest.approx(likely(client, basil))


def test_the_case_page_shows_the_name_and_the_own_band(client):
    post(client, **air("12", "15", "20", "24"))
    case = make_case(make_planting(crop="cool-basil"))
    reading_record(case=case, quantity="air_temp_c", value=26.0, typed="26", unit="°C", by=None)
    shown = client.get(reverse("case", args=[case.pk])).content.decode()
    assert "Cool basil" in shown
    assert "15.0 to 20.0" in shown


def test_a_case_file_names_what_an_own_crop_is_judged_by_elsewhere(client):
    post(client, **air("12", "15", "20", "24"))
    case = make_case(make_planting(crop="cool-basil"))
    file = client.get(reverse("case-file", args=[case.pk]))
    planting = json.loads(b"".join(file.streaming_content) if file.streaming else file.content)["planting"]
    assert (planting["crop"], planting["profile"]) == ("cool-basil", "generic-leafy")


def test_an_issued_plan_keeps_what_it_was_made_with(client):
    post(client, **air("12", "15", "20", "24"))
    case = make_case(make_planting(crop="cool-basil"))
    reading_record(case=case, quantity="air_temp_c", value=26.0, typed="26", unit="°C", by=None)
    by = make_staff("manager")
    with using_reference(reference_current()):
        plan = plan_issue(plan=plan_draft(case=case, causes=["heat-stress"], by=by), by=by, send_email=False)
    before = json.dumps(plan.snapshot, sort_keys=True)
    assert "15.0 to 20.0" in before
    post(client, reverse("profile-edit", args=[CropProfile.objects.get().pk]), **air("16", "20", "27", "32"))
    plan.refresh_from_db()
    assert json.dumps(plan.snapshot, sort_keys=True) == before


def test_rules_are_checked_against_the_bundled_crops_whatever_the_shop_added(client):
    post(client)
    reference_codes.cache_clear()
    with using_reference(reference_current()):
        assert "cool-basil" not in reference_codes().crops
