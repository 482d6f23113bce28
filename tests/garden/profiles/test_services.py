"""Own crop profiles: who may write them, what is refused, and how they join the bundled crops."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from garden.access import Role
from garden.models import CropProfile
from garden.profiles.selectors import profile_lines, reference_current
from garden.profiles.services import ProfileRefused, profile_delete, profile_save
from garden.reference.loader import bundled_reference, load_reference, using_reference
from garden.reference.schema import NO_SOURCE
from tests.factories import make_planting, make_staff

pytestmark = pytest.mark.django_db
COOL = {"wide_low": 12.0, "low": 15.0, "high": 20.0, "wide_high": 24.0}


@pytest.fixture
def manager():
    return make_staff(Role.MANAGER)


def save(by, name="Cool basil", **values):
    return profile_save(
        **{"name": name, "based_on": "basil", "bands": {"air_temp_c": COOL}, "by": by, **values}
    )


# --- joining --------------------------------------------------------------------------------------
def test_without_own_profiles_the_bundled_data_is_used_as_it_is():
    assert reference_current() is bundled_reference()


def test_an_own_profile_is_a_crop_with_its_own_band_and_the_rest_of_its_base(manager):
    save(manager, note="Nell's trial of three winters")
    crop, basil = reference_current().crops["cool-basil"], bundled_reference().crops["basil"]
    band = crop.band("air_temp_c")
    assert (band.wide_low, band.low, band.high, band.wide_high) == (12, 15, 20, 24)
    assert band.source == NO_SOURCE
    assert band.note == {"en": "Own profile of the shop"}
    assert crop.band("feed_ph") == basil.band("feed_ph")
    assert crop.band("feed_ec_ms_cm", "seedling") == basil.band("feed_ec_ms_cm", "seedling")
    assert crop.name == {"en": "Cool basil"}
    assert crop.notes == {"en": "Nell's trial of three winters"}


def test_an_own_band_holds_in_every_stage(manager):
    save(manager)
    crop = reference_current().crops["cool-basil"]
    assert bundled_reference().crops["basil"].band("air_temp_c", "germination").low == 20
    assert crop.band("air_temp_c", "germination").low == 15


def test_an_own_profile_counts_as_the_crop_it_is_made_from_and_is_no_generic_one(manager):
    save(manager)
    save(manager, name="Winter fruit", based_on="generic-fruiting")
    reference = reference_current()
    assert reference.crops["cool-basil"].kind_of == "basil"
    assert reference.crops["cool-basil"].profile_of == "generic-leafy"
    assert reference.crops["winter-fruit"].profile_of == "generic-fruiting"
    assert reference.profiles == bundled_reference().profiles


def test_a_profile_may_be_based_on_an_own_one(manager):
    save(manager)
    save(manager, name="Cold basil", based_on="cool-basil", bands={})
    crop = reference_current().crops["cold-basil"]
    assert crop.band("air_temp_c").low == 15
    assert crop.kind_of == "basil"


def test_adding_changing_and_removing_is_seen_at_once(manager):
    row = save(manager)
    assert reference_current().crops["cool-basil"].band("air_temp_c").low == 15
    profile_save(profile=row, name="Cool basil", bands={"air_temp_c": {**COOL, "low": 16.0}}, by=manager)
    assert reference_current().crops["cool-basil"].band("air_temp_c").low == 16
    profile_delete(profile=row, by=manager)
    assert "cool-basil" not in reference_current().crops


def test_the_joined_data_costs_one_query_while_nothing_changes(manager, django_assert_num_queries):
    save(manager)
    reference_current()
    with django_assert_num_queries(1):
        reference_current()


def test_the_joined_data_is_used_inside_the_context_only(manager):
    save(manager)
    with using_reference(reference_current()):
        assert "cool-basil" in load_reference().crops
    assert "cool-basil" not in load_reference().crops


def test_a_stored_profile_that_cannot_be_read_is_left_out_and_told(manager, caplog):
    save(manager)
    CropProfile.objects.create(code="broken", name="Broken", based_on="basil", bands={"feed_ph": {"low": 1}})
    crops = reference_current().crops
    assert "cool-basil" in crops
    assert "broken" not in crops
    assert "The crop profile broken cannot be used" in caplog.text


def test_a_profile_whose_base_is_gone_falls_back_to_a_leafy_crop():
    CropProfile.objects.create(code="orphan", name="Orphan", based_on="no-more", bands={})
    crops = reference_current().crops
    assert crops["orphan"].band("air_temp_c") == crops["generic-leafy"].band("air_temp_c")


# --- writing --------------------------------------------------------------------------------------
@pytest.mark.parametrize("role", [Role.COUNTER, Role.CONSULTANT])
def test_only_a_manager_writes_profiles(manager, role):
    row, other = save(manager), make_staff(role)
    with pytest.raises(PermissionDenied):
        save(other, name="Another")
    with pytest.raises(PermissionDenied):
        profile_delete(profile=row, by=other)
    assert [row.code for row in CropProfile.objects.all()] == ["cool-basil"]


@pytest.mark.parametrize("name", ["Basil", "basil", " BASIL ", "Basil!", "Ocimum basilicum", "generic leafy"])
def test_the_name_or_code_of_a_bundled_crop_is_refused(manager, name):
    with pytest.raises(ProfileRefused, match="already") as refused:
        save(manager, name=name)
    assert refused.value.field == "name"
    assert not CropProfile.objects.exists()


def test_the_name_of_another_own_profile_is_refused_and_its_own_is_not(manager):
    row = save(manager)
    other = save(manager, name="Warm basil")
    with pytest.raises(ProfileRefused):
        save(manager, name="cool BASIL")
    with pytest.raises(ProfileRefused):
        profile_save(profile=other, name="Cool basil", bands={}, by=manager)
    assert profile_save(profile=row, name="Cool basil", bands={}, by=manager).bands == {}


def test_a_name_keeps_its_code_when_it_changes(manager):
    row = profile_save(profile=save(manager), name="Chilly basil", bands={}, by=manager)
    assert (row.code, row.name, row.based_on) == ("cool-basil", "Chilly basil", "basil")


def test_names_without_latin_letters_get_codes_of_their_own(manager):
    codes = [save(manager, name=name).code for name in ("罗勒", "薄荷")]
    assert codes == ["own-profile-1", "own-profile-2"]


@pytest.mark.parametrize(
    "bands",
    [
        {"air_temp_c": {**COOL, "low": 21.0}},
        {"air_temp_c": {**COOL, "wide_high": 19.0}},
        {"air_temp_c": {**COOL, "wide_high": 61.0}},
        {"air_temp_c": {"low": 15.0}},
        {"co2_ppm": {"wide_low": 300.0, "low": 400.0, "high": 900.0, "wide_high": 1000.0}},
    ],
)
def test_limits_out_of_order_impossible_incomplete_or_not_offered_are_refused(manager, bands):
    with pytest.raises(ProfileRefused):
        save(manager, bands=bands)
    assert not CropProfile.objects.exists()


def test_an_unknown_base_is_refused(manager):
    with pytest.raises(ProfileRefused, match="no such crop"):
        save(manager, based_on="moon-cabbage")


def test_the_database_keeps_a_profile_from_standing_on_itself():
    with pytest.raises(IntegrityError), transaction.atomic():
        CropProfile.objects.create(code="loop", name="Loop", based_on="loop")


def test_history_tells_who_changed_a_profile(manager):
    row = save(manager)
    assert row.history.latest().history_user == manager


# --- removing -------------------------------------------------------------------------------------
def test_a_profile_a_planting_uses_stays(manager):
    row = save(manager)
    make_planting(crop="cool-basil")
    with pytest.raises(ProfileRefused, match="1 planting is judged by it"):
        profile_delete(profile=row, by=manager)
    assert CropProfile.objects.get() == row


def test_a_profile_another_is_based_on_stays(manager):
    row = save(manager)
    save(manager, name="Cold basil", based_on="cool-basil")
    with pytest.raises(ProfileRefused, match="Cold basil is based on it"):
        profile_delete(profile=row, by=manager)


def test_the_list_counts_plantings_and_says_limits_in_the_units_asked_for(manager):
    save(manager)
    make_planting(crop="cool-basil")
    make_planting(crop="cool-basil")
    (line,) = profile_lines("us")
    assert (line.plantings, line.based_on) == (2, "Basil")
    # Exact by definition: °F = °C × 1.8 + 32.
    assert line.limits == (("", (("Air temperature by day", "59.0 to 68.0 °F", "53.6 to 75.2 °F"),)),)
