"""Pages that write are closed to a role without the right, however they are asked."""

import pytest
from django.urls import reverse

from garden import access
from garden.access import Role
from garden.models import Grower, Photo
from tests.factories import client_of, make_photo, make_question

pytestmark = pytest.mark.django_db
GUARDED = {
    "grower-new": [],
    "grower-edit": ["grower"],
    "garden-new": ["grower"],
    "garden-edit": ["garden"],
    "photo-delete": ["photo"],
    "question-new": [],
    "question": ["question"],
    "question-to-case": ["question"],
    "rules-publish": [],
    "profile-new": [],
    "shop-settings": [],
    "staff": [],
    "staff-new": [],
    "staff-edit": ["person"],
}


@pytest.mark.parametrize("name", GUARDED)
def test_a_role_without_any_right_is_refused_and_nothing_changes(name, monkeypatch):
    monkeypatch.setitem(access.RIGHTS, Role.COUNTER, frozenset())
    photo, question = make_photo(), make_question(words="before")
    garden = photo.planting.space.garden
    client = client_of("counter")
    pks = {
        "grower": garden.grower_id,
        "garden": garden.pk,
        "photo": photo.pk,
        "question": question.pk,
        "person": client.session["_auth_user_id"],
    }
    url = reverse(name, args=[pks[what] for what in GUARDED[name]])
    page = client.post(url, {"name": "Changed", "units": "metric", "words": "after"})
    assert (page.status_code, "Your role does not let you" in page.content.decode()) == (
        (403, True) if name != "staff" else (405, False)
    )
    assert client.get(url).status_code in (403, 405)
    question.refresh_from_db()
    assert question.words == "before"
    assert Photo.objects.exists()
    assert not Grower.objects.filter(name="Changed").exists()
