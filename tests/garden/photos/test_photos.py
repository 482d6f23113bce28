"""Keeping, showing and removing photos."""

import hashlib

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse

from garden.models import Photo
from garden.photos.pictures import PhotoRefused
from garden.photos.services import photo_add
from tests.factories import client_of, make_photo, make_planting, make_staff, make_upload

pytestmark = pytest.mark.django_db


def test_a_photo_is_kept_under_a_name_that_says_nothing():
    person, planting = make_staff(), make_planting()
    photo = photo_add(
        planting=planting, upload=make_upload(name="../../My cat.php"), by=person, caption=" Leaf "
    )
    assert (photo.planting, photo.uploaded_by, photo.caption) == (planting, person, "Leaf")
    assert photo.image.name.startswith("photos/")
    assert photo.image.name.endswith(".jpg")
    assert "cat" not in photo.image.name
    with photo.image.open("rb") as file:
        assert hashlib.sha256(file.read()).hexdigest() == photo.sha256
    assert (photo.width, photo.height) == (64, 48)


def test_the_same_photo_sent_twice_is_kept_once():
    planting = make_planting()
    first = photo_add(planting=planting, upload=make_upload(), by=None)
    assert photo_add(planting=planting, upload=make_upload(), by=None) == first
    assert Photo.objects.count() == 1


def test_a_refused_file_leaves_nothing_behind():
    with pytest.raises(PhotoRefused):
        photo_add(planting=make_planting(), upload=make_upload(b"<svg/>"), by=None)
    assert not Photo.objects.exists()


def test_a_failure_of_the_database_leaves_no_file_behind(monkeypatch):
    written = []
    real = default_storage.save
    monkeypatch.setattr(default_storage, "save", lambda *a, **k: written.append(real(*a, **k)) or written[-1])
    monkeypatch.setattr(Photo, "save", lambda self: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        photo_add(planting=make_planting(), upload=make_upload(), by=None)
    assert len(written) == 2
    assert not any(default_storage.exists(name) for name in written)


@pytest.mark.parametrize(("name", "size"), [("photo", "image"), ("photo-thumb", "thumbnail")])
def test_a_photo_is_shown_as_a_jpeg_and_nothing_else(name, size):
    photo = make_photo()
    page = client_of("counter").get(reverse(name, args=[photo.pk]))
    assert page["Content-Type"] == "image/jpeg"
    assert page["X-Content-Type-Options"] == "nosniff"
    assert page["Cache-Control"] == "private, max-age=3600"
    assert page["Content-Disposition"].startswith("inline; filename=")
    with getattr(photo, size).open("rb") as file:
        assert b"".join(page.streaming_content) == file.read()
    page.close()


@pytest.mark.parametrize("name", ["photo", "photo-thumb"])
def test_a_stranger_is_sent_to_sign_in(client, name):
    page = client.get(reverse(name, args=[make_photo().pk]))
    assert page.status_code == 302
    assert page["Location"].startswith(reverse("login"))


def test_a_photo_whose_file_is_lost_is_not_found():
    photo = make_photo()
    photo.image.storage.delete(photo.image.name)
    assert client_of().get(reverse("photo", args=[photo.pk])).status_code == 404


def test_removing_a_photo_removes_its_files(django_capture_on_commit_callbacks):
    photo = make_photo()
    names = [photo.image.name, photo.thumbnail.name]
    with django_capture_on_commit_callbacks(execute=True):
        page = client_of().post(reverse("photo-delete", args=[photo.pk]), {"next": "/cases/"})
    assert page["Location"] == "/cases/"
    assert not Photo.objects.exists()
    assert not any(default_storage.exists(name) for name in names)


def test_after_removing_it_never_leads_away_from_this_site():
    photo = make_photo()
    page = client_of().post(reverse("photo-delete", args=[photo.pk]), {"next": "https://evil.example/"})
    assert page["Location"] == reverse("grower", args=[photo.planting.space.garden.grower_id])


def test_a_photo_is_not_removed_by_a_link():
    photo = make_photo()
    assert client_of().get(reverse("photo-delete", args=[photo.pk])).status_code == 405
    assert Photo.objects.exists()
