"""Whether and how a grower may be written to, as noted at the counter."""

import pytest
from django.urls import reverse
from django.utils import timezone

from garden.models import Grower
from garden.people.services import grower_save
from tests.factories import client_of, make_grower, make_staff, signed_in

pytestmark = pytest.mark.django_db
BASE = {"name": "Ada", "units": "metric", "email": "ada@example.org"}


def change(grower: Grower, client=None, **sent: str) -> Grower:
    answer = (client or client_of()).post(reverse("grower-edit", args=[grower.pk]), {**BASE, **sent})
    assert answer.status_code == 302
    grower.refresh_from_db()
    return grower


def unreachable(**more: object) -> Grower:
    return make_grower(
        name="Ada",
        email="ada@example.org",
        email_consent_at=timezone.now(),
        email_unreachable_at=timezone.now(),
        email_unreachable_why="5.1.1 no such mailbox",
        **more,
    )


def test_consent_says_when_how_and_who_noted_it():
    person = make_staff(first_name="Nora", last_name="Beck")
    grower = change(make_grower(name="Ada"), signed_in(person), may_email="on", consent_how="by-phone")
    assert grower.email_consent_at is not None
    assert (grower.email_consent_how, grower.email_consent_by) == ("by-phone", person)
    shown = client_of().get(reverse("grower", args=[grower.pk])).content.decode()
    assert "Said so on the phone" in shown
    assert "noted by Nora Beck" in shown


def test_who_noted_the_consent_stays_when_somebody_else_changes_the_grower():
    first, second = make_staff(), make_staff()
    grower = change(make_grower(name="Ada"), signed_in(first), may_email="on", consent_how="in-writing")
    grower = change(grower, signed_in(second), may_email="on", consent_how="in-writing", notes="new")
    assert (grower.email_consent_how, grower.email_consent_by) == ("in-writing", first)


def test_taking_the_consent_away_forgets_how_it_was_given():
    grower = change(make_grower(name="Ada"), may_email="on", consent_how="in-person")
    grower = change(grower, consent_how="in-person")
    assert (grower.email_consent_at, grower.email_consent_how, grower.email_consent_by) == (None, "", None)


def test_who_wants_plans_but_no_reminders_may_be_emailed_and_not_reminded():
    grower = change(make_grower(name="Ada"), may_email="on", no_reminders="on")
    assert grower.may_be_emailed
    assert not grower.may_be_reminded
    assert grower.reminders_stopped_how == "told-us"
    since = grower.reminders_stopped_at
    assert change(grower, may_email="on", no_reminders="on").reminders_stopped_at == since
    assert change(grower, may_email="on").may_be_reminded


def test_an_address_that_mail_comes_back_from_is_not_written_to_and_the_consent_stays():
    grower = unreachable()
    assert grower.agrees_to_email
    assert not grower.may_be_emailed
    shown = client_of().get(reverse("grower", args=[grower.pk])).content.decode()
    assert "mail came back" in shown
    assert "5.1.1 no such mailbox" in shown
    assert (
        "5.1.1 no such mailbox" in client_of().get(reverse("grower-edit", args=[grower.pk])).content.decode()
    )
    assert not change(grower, may_email="on").may_be_emailed


def test_an_address_works_again_when_somebody_says_so_or_it_is_another_one():
    assert change(unreachable(), may_email="on", reachable_again="on").may_be_emailed
    assert change(unreachable(), may_email="on", email="new@example.org", another_person="on").may_be_emailed


def test_saving_only_a_name_leaves_the_wishes_about_mail_alone():
    grower = unreachable(reminders_stopped_at=timezone.now(), reminders_stopped_how="by-link")
    grower_save(data={"name": "Ada M.", "email": grower.email}, may_email=True, by=None, grower=grower)
    grower.refresh_from_db()
    assert grower.email_unreachable_at and grower.reminders_stopped_how == "by-link"
