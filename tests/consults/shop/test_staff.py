"""The shop's people: entered, changed, and never without a manager."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from consults.shop.services import StaffRefused, staff_save
from garden.models import Staff
from tests.factories import PASSWORD, client_of, make_staff, queries_of, signed_in

pytestmark = pytest.mark.django_db
NEW = {
    "username": "till",
    "first_name": "Till",
    "last_name": "Borst",
    "email": "",
    "role": "counter",
    "temporary_password": "a long first secret",
}


def change(manager, person, **values):
    data = {"username": person.username, "role": person.role, "is_active": "on", **values}
    return signed_in(manager).post(
        reverse("staff-edit", args=[person.pk]), {k: v for k, v in data.items() if v is not None}
    )


def test_the_manager_enters_somebody_who_can_then_sign_in(client):
    manager = make_staff("manager")
    assert signed_in(manager).post(reverse("staff-new"), NEW).status_code == 302
    person = Staff.objects.get(username="till")
    assert (person.role, person.is_active, str(person)) == ("counter", True, "Till Borst")
    assert person.check_password("a long first secret")
    assert person.history.get().history_user == manager


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("username", "", "Choose a name for signing in"),
        ("username", "two words", "without spaces"),
        ("temporary_password", "", "Set a password to begin with"),
        ("temporary_password", "short", "at least 12 characters"),
        ("temporary_password", "password123456", "too common"),
        ("role", "owner", "Select a valid choice"),
    ],
)
def test_a_wrong_field_says_what_to_do(field, typed, sentence):
    page = client_of("manager").post(reverse("staff-new"), {**NEW, field: typed})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "Borst" in page.content.decode()


@pytest.mark.parametrize("field", ["username", "role"])
def test_a_password_is_never_shown_again_and_is_asked_for_once_more(field):
    page = client_of("manager").post(reverse("staff-new"), {**NEW, field: ""}).content.decode()
    assert "a long first secret" not in page
    assert "Type the temporary password once more" in page
    assert "Borst" in page


def test_a_change_the_shop_refuses_asks_for_the_password_once_more():
    manager = make_staff("manager")
    page = change(manager, manager, role="counter", temporary_password="another long secret").content.decode()
    assert "This is the last manager" in page
    assert "another long secret" not in page
    assert "Type the temporary password once more" in page


@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_only_a_manager_changes_staff_whoever_asks_the_service(role):
    person = make_staff("counter")
    with pytest.raises(PermissionDenied):
        staff_save(data={"role": "manager"}, by=make_staff(role), person=person)
    person.refresh_from_db()
    assert person.role == "counter"


def test_a_name_that_is_taken_is_refused():
    make_staff(username="till")
    page = client_of("manager").post(reverse("staff-new"), NEW)
    assert "This name is taken" in page.content.decode()


def test_somebody_who_leaves_can_no_longer_do_anything():
    person = make_staff("consultant")
    theirs = signed_in(person)
    change(make_staff("manager"), person, is_active=None)
    person.refresh_from_db()
    assert not person.is_active
    assert theirs.get(reverse("today")).status_code == 302


def test_a_forgotten_password_is_replaced():
    person = make_staff("counter")
    change(make_staff("manager"), person, temporary_password="another long secret")
    person.refresh_from_db()
    assert person.check_password("another long secret")


def test_without_a_new_password_the_old_one_stays():
    person = make_staff("counter")
    change(make_staff("manager"), person, first_name="New")
    person.refresh_from_db()
    assert person.first_name == "New"
    assert person.check_password(PASSWORD)


@pytest.mark.parametrize("values", [{"role": "counter"}, {"is_active": None}])
def test_the_last_manager_stays(values):
    manager = make_staff("manager")
    make_staff("manager", is_active=False)
    page = change(manager, manager, **values)
    manager.refresh_from_db()
    assert page.status_code == 422
    assert "This is the last manager" in page.content.decode()
    assert (manager.role, manager.is_active) == ("manager", True)


@pytest.mark.parametrize("values", [{"role": "counter"}, {"is_active": None}])
def test_nobody_locks_themselves_out(values):
    manager = make_staff("manager")
    make_staff("manager")
    page = change(manager, manager, **values)
    manager.refresh_from_db()
    assert "You cannot take this away from yourself" in page.content.decode()
    assert (manager.role, manager.is_active) == ("manager", True)


def test_another_manager_may_step_down():
    other = make_staff("manager")
    change(make_staff("manager"), other, role="counter")
    other.refresh_from_db()
    assert other.role == "counter"


def test_the_refusal_names_the_field():
    manager = make_staff("manager")
    with pytest.raises(StaffRefused) as refusal:
        staff_save(data={"is_active": False}, by=manager, person=manager)
    assert refusal.value.field == "is_active"


def test_setting_ones_own_password_does_not_sign_out():
    manager = make_staff("manager")
    client = signed_in(manager)
    data = {"username": manager.username, "role": "manager", "is_active": "on"}
    client.post(
        reverse("staff-edit", args=[manager.pk]), {**data, "temporary_password": "another long secret"}
    )
    assert client.get(reverse("staff")).status_code == 200


def test_everybody_may_change_their_own_password():
    person = make_staff("counter")
    client = signed_in(person)
    data = {
        "old_password": PASSWORD,
        "new_password1": "my own long secret",
        "new_password2": "my own long secret",
    }
    assert client.post(reverse("my-password"), data)["Location"] == reverse("today")
    person.refresh_from_db()
    assert person.check_password("my own long secret")
    assert client.get(reverse("today")).status_code == 200


def test_the_number_of_queries_does_not_grow_with_the_staff():
    client = client_of("manager")
    few = queries_of(client, reverse("staff"))
    for _ in range(8):
        make_staff("counter")
    assert queries_of(client, reverse("staff")) == few
