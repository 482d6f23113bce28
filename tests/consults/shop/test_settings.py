"""The shop's settings: for the manager only."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from django.utils import timezone

from consults.models import Shop
from consults.shop.money import amount_of, decimals_of, minor_of
from consults.shop.selectors import units_for_new_grower
from consults.shop.services import shop_save
from garden import access
from garden.access import Right, Role
from tests.factories import client_of, make_staff, signed_in

pytestmark = pytest.mark.django_db
GOOD = {
    "name": "Root Cellar",
    "address": "1 Lane",
    "phone": "0664",
    "email": "hello@shop.example",
    "opening_hours": "Tue–Sat",
    "time_zone": "Asia/Tokyo",
    "paper": "Letter",
    "units": "us",
    "currency": "EUR",
    "fee": "45.00",
}
URL = "shop-settings"


def test_the_manager_changes_the_settings_and_the_history_knows_who():
    person = make_staff("manager")
    assert signed_in(person).post(reverse(URL), GOOD).status_code == 302
    shop = Shop.objects.get()
    assert (shop.name, shop.paper, shop.units, shop.consult_fee_minor) == (
        "Root Cellar",
        "Letter",
        "us",
        4500,
    )
    assert shop.history.get().history_user == person
    assert units_for_new_grower() == "us"


def test_the_new_time_zone_counts_from_the_next_page_on(django_capture_on_commit_callbacks):
    client = client_of("manager")
    client.get(reverse("today"))  # the old one is remembered now
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse(URL), GOOD)
    zones = []
    with pytest.MonkeyPatch.context() as patch:
        seen = lambda: zones.append(timezone.get_current_timezone_name()) or {}  # noqa: E731
        patch.setattr("consults.shop.panels.today_panels", seen)
        client.get(reverse("today"))
    assert zones == ["Asia/Tokyo"]


# ISO 4217: the euro has two decimals, the yen none, the Kuwaiti dinar three (from memory).
@pytest.mark.parametrize(
    ("currency", "typed", "minor"),
    [
        ("EUR", "45", 4500),
        ("eur", "45,5", 4550),
        ("JPY", "4500", 4500),
        ("KWD", "4.125", 4125),
        ("EUR", "", 0),
    ],
)
def test_the_price_is_kept_in_smallest_coins(currency, typed, minor):
    client_of("manager").post(reverse(URL), {**GOOD, "currency": currency, "fee": typed})
    assert Shop.objects.get().consult_fee_minor == minor


def test_the_price_is_shown_as_an_amount():
    Shop.objects.create(pk=1, currency="EUR", consult_fee_minor=4550)
    assert client_of("manager").get(reverse(URL)).context["form"]["fee"].value() == "45.50"


@pytest.mark.parametrize("currency", ["EUR", "JPY", "KWD"])
def test_amounts_survive_the_way_there_and_back(currency):
    assert minor_of(amount_of(12345, currency), currency) == 12345
    assert decimals_of(currency) in (0, 2, 3)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("fee", "45.005", "at most 2 decimals"),
        ("fee", "4.500,00", "without thousands separators"),
        ("fee", "-1", "must be from 0"),
        ("fee", "1e30", "must be from 0"),
        ("fee", "1e999999999", "Write an amount"),
        ("fee", "NaN", "Write an amount"),
        ("fee", "free", "Write an amount"),
        ("currency", "Euro", "at most 3 characters"),
        ("currency", "12", "three letters"),
        ("time_zone", "Mars/Base", "Select a valid choice"),
        ("name", "", "The shop needs a name"),
    ],
)
def test_a_wrong_setting_is_refused_and_the_rest_is_kept(field, typed, sentence):
    page = client_of("manager").post(reverse(URL), {**GOOD, field: typed})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "1 Lane" in page.content.decode()
    assert not Shop.objects.exists()


@pytest.mark.parametrize("role", ["counter", "consultant"])
@pytest.mark.parametrize("name", ["shop-settings", "staff", "staff-new"])
def test_others_are_told_that_their_role_does_not_open_it(role, name):
    page = client_of(role).get(reverse(name))
    assert page.status_code == 403
    assert "Your role does not let you" in page.content.decode()
    assert client_of(role).post(reverse(URL), GOOD).status_code == 403
    assert not Shop.objects.exists()


@pytest.mark.parametrize(
    ("right", "data", "allowed"),
    [
        (Right.EDIT_SETTINGS, {"name": "Root Cellar"}, True),
        (Right.EDIT_SETTINGS, {"consult_fee_minor": 1}, False),
        (Right.EDIT_SETTINGS, {"currency": "JPY"}, False),
        (Right.EDIT_SETTINGS, {"name": "Root Cellar", "consult_fee_minor": 4500}, True),  # as it was
        (Right.EDIT_PRICES, {"currency": "JPY", "consult_fee_minor": 1}, True),
        (Right.EDIT_PRICES, {"name": "Root Cellar", "consult_fee_minor": 1}, False),
        (Right.EDIT_PRICES, {}, False),
    ],
)
def test_prices_and_settings_are_two_rights_whoever_asks_the_service(right, data, allowed, monkeypatch):
    monkeypatch.setitem(access.RIGHTS, Role.COUNTER, frozenset({right}))
    before = Shop.objects.create(pk=1, currency="EUR", consult_fee_minor=4500)
    if allowed:
        shop_save(data=data, by=make_staff("counter"))
        assert Shop.objects.filter(pk=1, **data).exists()
        return
    with pytest.raises(PermissionDenied):
        shop_save(data=data, by=make_staff("counter"))
    assert Shop.objects.get().name == before.name
    assert Shop.objects.get().consult_fee_minor == 4500


def test_a_price_typed_without_the_right_is_refused_with_a_reason(monkeypatch):
    monkeypatch.setitem(access.RIGHTS, Role.MANAGER, frozenset({Right.EDIT_SETTINGS}))
    page = client_of("manager").post(reverse(URL), GOOD)
    assert (page.status_code, "change prices" in page.content.decode()) == (403, True)
    assert not Shop.objects.exists()
