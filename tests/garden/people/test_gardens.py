"""Describing a garden on one screen."""

import pytest
from django.urls import reverse

from garden.models import Garden, Lamp, Planting
from garden.people.garden_screen import GardenScreen
from tests.factories import client_of, make_grower, make_planting, make_staff, signed_in

pytestmark = pytest.mark.django_db
LEAST = {"space-kind": "tent", "planting-crop": "Basil"}


def send(data, grower=None, garden=None, client=None, query=""):
    grower = grower or make_grower()
    url = reverse("garden-edit", args=[garden.pk]) if garden else reverse("garden-new", args=[grower.pk])
    return (client or client_of()).post(url + query, {**LEAST, **data})


def shown(garden):
    """What the screen shows for a garden, as a browser would send it back."""
    screen = GardenScreen(system=garden.grower.units, garden=garden)
    fields = {part.add_prefix(name): part[name].value() for part in screen for name in part.fields}
    return {name: value for name, value in fields.items() if value not in (None, "", False)}


def test_a_space_and_a_crop_are_enough():
    grower, person = make_grower(), make_staff("counter")
    page = send({}, grower, client=signed_in(person))
    garden = Garden.objects.get()
    planting = Planting.objects.get()
    assert page["Location"] == reverse("grower", args=[grower.pk])
    assert (garden.grower, planting.crop, planting.profile) == (grower, "basil", "")
    assert not Lamp.objects.exists()
    assert not garden.waters.exists()
    assert not garden.feeds.exists()
    assert planting.history.get().history_user == person


def test_the_whole_garden_is_kept_in_stored_units():
    send(
        {
            "garden-name": "Cellar",
            "space-length_m": "1,5",
            "lamp-0-type": "led-white",
            "lamp-0-count": "2",
            "lamp-0-watts": "150",
            "lamp-0-height_m": "40",
            "lamp-0-hours": "16",
            "lamp-0-efficacy_umol_j": "2,4",
            "water-source": "tap",
            "water-alkalinity_mg_l": "140",
            "water-ph": "7.6",
            "feed-0-product": "Base A",
            "feed-0-ml_per_l": "2,5",
            "planting-stage": "flowering",
            "planting-system": "hand-watered-pot",
            "planting-medium": "coco",
            "planting-container_l": "7,5",
            "planting-plants": "6",
            "planting-watering_interval_days": "1.5",
            "planting-watering_volume_l": "800 mL",
        }
    )
    garden, planting, lamp = Garden.objects.get(), Planting.objects.get(), Lamp.objects.get()
    water, feed = garden.waters.get(), garden.feeds.get()
    assert (garden.name, planting.space.length_m) == ("Cellar", 1.5)
    assert (lamp.type, lamp.count, lamp.watts, lamp.hours, lamp.efficacy_umol_j) == (
        "led-white",
        2,
        150,
        16,
        2.4,
    )
    assert lamp.height_m == pytest.approx(0.4)
    assert (water.source, water.alkalinity_mg_l, water.ph) == ("tap", 140, 7.6)
    assert (feed.product, feed.ml_per_l) == ("Base A", 2.5)
    assert (planting.stage, planting.bbch_principal) == ("flowering", 5)
    assert (planting.container_l, planting.plants, planting.watering_interval_days) == (7.5, 6, 1.5)
    assert planting.watering_volume_l == pytest.approx(0.8)


def test_a_grower_with_us_units_types_feet_inches_gallons_and_ounces():
    # Exact by definition: foot 0.3048 m, inch 0.0254 m, US gallon 3.785411784 L, US fluid ounce 1/128 of it
    # (NIST Special Publication 811, appendix B; NIST Handbook 44, appendix C).
    grower = make_grower(units="us")
    data = {
        "space-length_m": "5",
        "lamp-0-type": "hps",
        "lamp-0-height_m": "20",
        "planting-container_l": "3",
        "planting-watering_volume_l": "16",
        "feed-0-product": "Base A",
        "feed-0-ml_per_l": "10",
    }
    page = client_of().get(reverse("garden-new", args=[grower.pk])).content.decode()
    assert "One container (US gal)" in page
    send(data, grower)
    planting, lamp = Planting.objects.get(), Lamp.objects.get()
    assert planting.space.length_m == pytest.approx(1.524)
    assert lamp.height_m == pytest.approx(0.508)
    assert planting.container_l == pytest.approx(11.356235352)
    assert planting.watering_volume_l == pytest.approx(0.473176473)
    assert planting.space.garden.feeds.get().ml_per_l == pytest.approx(10 / 3.785411784)


def test_an_amount_that_was_not_touched_is_not_rounded():
    planting = make_planting(make_grower(units="us"), container_l=7.123456)
    garden = planting.space.garden
    send(shown(garden), garden=garden)
    planting.refresh_from_db()
    assert planting.container_l == 7.123456
    assert planting.history.count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("lamp-0-hours", "25", "it must be from 0 to 24 h"),
        ("planting-container_l", "0", "it must be above 0 and at most"),
        ("planting-container_l", "ten", "is not one clear number"),
        ("planting-container_l", "1,250", "is not one clear number"),
        ("planting-container_l", "5 kg", "does not fit here"),
        ("planting-plants", "2.5", "is not a whole number"),
        ("planting-plants", "-3", "it must be from 1 to"),
        ("water-ph", "15", "it must be from 0 to 14"),
        ("water-ph", "nan", "is not one clear number"),
        ("space-kind", "", "Choose what kind of space"),
        ("planting-crop", "", "Write what grows here"),
        ("planting-system", "hanging", "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_nothing_is_lost(field, typed, sentence):
    data = {"garden-notes": "kept notes", "lamp-0-type": "hps", "water-source": "tap", field: typed}
    page = send(data)
    text = page.content.decode()
    assert page.status_code == 422
    assert sentence in text
    assert "kept notes" in text
    assert not Garden.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("lamp-0-hours", "24", "24 h is unusual"),
        ("planting-container_l", "500", "500 L is unusual"),
        ("planting-watering_interval_days", "45", "45 is unusual"),
    ],
)
def test_what_is_unusual_is_kept_and_asked_about(field, typed, sentence):
    grower = make_grower()
    client = client_of()
    send({"lamp-0-type": "hps", field: typed}, grower, client=client)
    assert Garden.objects.count() == 1
    assert sentence in client.get(reverse("grower", args=[grower.pk])).content.decode()


def test_more_water_than_the_container_holds_is_asked_about():
    grower, client = make_grower(), client_of()
    send({"planting-container_l": "2", "planting-watering_volume_l": "3"}, grower, client=client)
    assert "more than the container holds" in client.get(reverse("grower", args=[grower.pk])).content.decode()


def test_a_crop_without_limits_of_its_own_needs_the_nearest_profile():
    page = send({"planting-crop": "Okra"})
    assert page.status_code == 422
    assert "We have no limits for “Okra”" in page.content.decode()
    send({"planting-crop": "Okra", "planting-profile": "generic-fruiting"})
    planting = Planting.objects.get()
    assert (planting.crop, planting.profile) == ("Okra", "generic-fruiting")


@pytest.mark.parametrize("typed", ["basil", "BASIL", " Basil "])
def test_a_known_crop_is_recognised_however_it_is_typed(typed):
    send({"planting-crop": typed, "planting-profile": "generic-leafy"})
    assert (Planting.objects.get().crop, Planting.objects.get().profile) == ("basil", "")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"lamp-1-hours": "12"}, "Choose the type of this lamp"),
        ({"water-ph": "7"}, "Choose where this water comes from"),
        ({"feed-2-ml_per_l": "2"}, "Name what is added"),
    ],
)
def test_half_a_row_is_asked_about(data, sentence):
    page = send(data)
    assert page.status_code == 422
    assert sentence in page.content.decode()


def test_clearing_a_row_removes_it_and_its_history_stays():
    planting = make_planting()
    garden = planting.space.garden
    lamp = planting.space.lamps.create(type="hps", hours=12)
    kept = garden.feeds.create(product="Base A", ml_per_l=2)
    send({**shown(garden), "lamp-0-type": "", "lamp-0-count": "", "lamp-0-hours": ""}, garden=garden)
    assert not Lamp.objects.exists()
    assert Lamp.history.filter(id=lamp.pk, history_type="-").exists()
    assert garden.feeds.get() == kept


def test_changing_a_garden_changes_its_rows_instead_of_adding_some():
    planting = make_planting()
    garden = planting.space.garden
    send({**shown(garden), "planting-stage": "fruiting", "space-kind": "shelf"}, garden=garden)
    planting.refresh_from_db()
    assert Planting.objects.get() == planting
    assert (planting.stage, planting.bbch_principal, planting.space.kind) == ("fruiting", 7, "shelf")


def test_new_plants_leave_the_earlier_planting_as_it_was():
    planting = make_planting()
    garden = planting.space.garden
    send({**shown(garden), "planting-crop": "Mint", "replant-new_planting": "on"}, garden=garden)
    assert [row.crop for row in Planting.objects.order_by("pk")] == ["basil", "mint"]


def test_more_lamps_than_the_screen_usually_shows_are_all_kept():
    planting = make_planting()
    for hours in range(5):
        planting.space.lamps.create(type="hps", hours=10 + hours)
    garden = planting.space.garden
    send(shown(garden), garden=garden)
    assert sorted(lamp.hours for lamp in Lamp.objects.all()) == [10, 11, 12, 13, 14]


def test_a_stored_code_that_is_no_longer_known_is_not_lost():
    planting = make_planting(medium="moon-dust")
    garden = planting.space.garden
    assert send({**shown(garden), "planting-plants": "7"}, garden=garden).status_code == 302
    planting.refresh_from_db()
    assert (planting.medium, planting.plants) == ("moon-dust", 7)


def test_afterwards_it_goes_on_to_where_it_was_opened_from():
    assert send({"next": "/cases/new/?grower=1"})["Location"] == "/cases/new/?grower=1"
    assert send({}, query="?next=/cases/new/")["Location"] == "/cases/new/"


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example", "javascript:alert(1)"])
def test_it_never_leads_away_from_this_site(elsewhere):
    grower = make_grower()
    assert send({"next": elsewhere}, grower)["Location"] == reverse("grower", args=[grower.pk])
