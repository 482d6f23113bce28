"""Entering and changing a grower."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from garden.models import Grower
from garden.people import defaults
from garden.people.services import grower_save
from tests.factories import client_of, make_grower, make_planting, make_staff, queries_of, signed_in

pytestmark = pytest.mark.django_db
BASE = {"name": "Ada", "units": "metric"}


def send(data, pk=None, client=None):
    url = reverse("grower-edit", args=[pk]) if pk else reverse("grower-new")
    return (client or client_of()).post(url, data)


def test_everybody_at_the_counter_may_enter_a_grower_and_the_history_knows_who():
    person = make_staff("counter")
    page = send({**BASE, "phone": "0664 555", "notes": "Likes mint"}, client=signed_in(person))
    grower = Grower.objects.get()
    assert page["Location"] == reverse("grower", args=[grower.pk])
    assert (grower.name, grower.phone_digits, grower.notes) == ("Ada", "0664555", "Likes mint")
    assert grower.history.get().history_user == person


def test_agreeing_to_email_is_dated_when_it_is_given():
    before = timezone.now()
    send({**BASE, "email": "ada@example.org", "may_email": "on"})
    assert before <= Grower.objects.get().email_consent_at <= timezone.now()


def test_the_date_of_consent_is_kept_while_nothing_about_it_changes():
    agreed = timezone.now() - datetime.timedelta(days=90)
    grower = make_grower(email="ada@example.org", email_consent_at=agreed)
    send({**BASE, "email": "ada@example.org", "may_email": "on", "notes": "new"}, grower.pk)
    grower.refresh_from_db()
    assert grower.notes == "new"
    assert grower.email_consent_at == agreed


def test_consent_for_another_address_is_a_new_consent():
    agreed = timezone.now() - datetime.timedelta(days=90)
    grower = make_grower(email="ada@example.org", email_consent_at=agreed)
    send({**BASE, "email": "other@example.org", "may_email": "on"}, grower.pk)
    grower.refresh_from_db()
    assert grower.email_consent_at > agreed


def test_unticking_takes_the_consent_away():
    grower = make_grower(email="ada@example.org", email_consent_at=timezone.now())
    send({**BASE, "email": "ada@example.org"}, grower.pk)
    grower.refresh_from_db()
    assert grower.email_consent_at is None


def test_consent_without_an_address_is_asked_about_and_nothing_is_lost():
    page = send({**BASE, "notes": "long notes", "may_email": "on"})
    assert page.status_code == 422
    assert not Grower.objects.exists()
    assert "To agree to email an address is needed" in page.content.decode()
    assert "long notes" in page.content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("name", " ", "Write the grower&#x27;s name"),
        ("email", "ada at example", "It looks like name@example.org"),
        ("phone", "call me", "This is not a phone number"),
    ],
)
def test_a_wrong_field_says_what_is_allowed_and_keeps_the_rest(field, typed, sentence):
    page = send({**BASE, "notes": "kept", field: typed})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "kept" in page.content.decode()
    assert page.context["form"][field].errors


@pytest.mark.parametrize("same", [{"phone": "0664 555 0107"}, {"email": "IVO@example.org"}])
def test_somebody_with_the_same_phone_or_email_is_shown_before_saving(same):
    ivo = make_grower(name="Ivo", phone="+43 664 5550107", email="ivo@example.org")
    page = send({**BASE, **same})
    assert page.status_code == 422
    assert reverse("grower", args=[ivo.pk]) in page.content.decode()
    assert Grower.objects.count() == 1
    send({**BASE, **same, "another_person": "on"})
    assert Grower.objects.count() == 2


def test_a_grower_is_not_their_own_double():
    grower = make_grower(phone="0664 555 0107")
    assert send({**BASE, "phone": "0664 555 0107"}, grower.pk).status_code == 302


def test_new_growers_start_with_the_units_the_floor_above_asks_for(monkeypatch):
    monkeypatch.setattr(defaults, "_asked", [])
    assert client_of().get(reverse("grower-new")).context["form"]["units"].value() == "metric"
    defaults.register_units(lambda: "us")
    assert client_of().get(reverse("grower-new")).context["form"]["units"].value() == "us"


def test_saving_without_a_change_writes_no_history():
    person, grower = make_staff(), make_grower(name="Ada")
    grower_save(data={"name": "Ada"}, may_email=False, by=person, grower=grower)
    assert grower.history.count() == 1


def test_the_page_of_a_grower_shows_contact_consent_and_gardens():
    grower = make_grower(name="Ada <b>", phone="0664", email="a@example.org", units="us")
    planting = make_planting(grower, container_l=7.570823568)
    text = client_of().get(reverse("grower", args=[grower.pk])).content.decode()
    assert "Ada &lt;b&gt;" in text
    assert "has not agreed to email" in text
    assert reverse("garden-edit", args=[planting.space.garden.pk]) in text
    assert "2 US gal" in text  # 1 US gallon is 3.785411784 L exactly (NIST Handbook 44, appendix C)
    assert f"{reverse('case-new')}?grower={grower.pk}" in text


def test_the_page_of_a_new_grower_offers_to_describe_the_garden():
    grower = make_grower()
    text = client_of().get(reverse("grower", args=[grower.pk])).content.decode()
    assert reverse("garden-new", args=[grower.pk]) in text


def test_the_page_of_a_grower_asks_the_database_equally_often_for_many_gardens():
    grower, client = make_grower(), client_of()
    make_planting(grower).space.lamps.create(type="hps")
    few = queries_of(client, reverse("grower", args=[grower.pk]))
    for _ in range(6):
        make_planting(grower).space.lamps.create(type="hps")
    assert queries_of(client, reverse("grower", args=[grower.pk])) == few


@pytest.mark.parametrize("name", ["grower", "grower-edit", "garden-new", "garden-edit"])
def test_somebody_who_is_not_there_is_not_found(name):
    assert client_of().get(reverse(name, args=[999])).status_code == 404
