"""What a grower sends: kept whole, corrected until the look is closed, refused in words, nothing lost."""

import pytest
from django.core.cache import cache
from django.urls import reverse

from consults.choices import CameTo
from consults.looks.recording import Judged, look_record
from consults.looks.services import LookClosedError, check_in_photo, check_in_send
from consults.models import CheckIn
from consults.signals import check_in_received
from garden.access import Role
from garden.models import Photo, Reading
from tests.consults.looks.making import (
    POTS,
    answers,
    make_check_in,
    make_look,
    path_of,
    phone,
    words_of,
)
from tests.factories import client_of, make_staff, make_upload, picture_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_counted():
    cache.clear()


@pytest.fixture
def news():
    """What floors above were told of check-ins: whether each was the first."""
    heard = []

    def hear(sender, *, check_in, first, **kwargs):
        heard.append(first)

    check_in_received.connect(hear)
    yield heard
    check_in_received.disconnect(hear)


def values(look) -> dict[str, float]:
    return {reading.quantity: reading.value for reading in make_check_in(look).readings.all()}


def test_what_a_grower_sends_is_kept_whole(news):
    look = make_look()
    sent = phone().post(path_of(look), answers(look))
    assert sent.status_code == 302
    kept = make_check_in(look)
    lines = look.plan.actions.filter(included=True)
    assert kept.actions_done == {str(line.pk): "done" for line in lines}
    assert (kept.changes, kept.progress) == ({"medium-stays-wet": "better"}, "better")
    assert kept.words == "New leaves are green."
    assert values(look) == {"root_zone_ph": 6.2, "air_temp_c": 23.0, "rh_percent": 60.0}
    assert kept.filled_by is None and kept.sent_at
    assert news == [True]


def test_the_same_readings_as_before_are_asked_in_the_growers_units():
    look = make_look(grower={**POTS["grower"], "units": "us"})
    form = phone().get(path_of(look)).context["form"]
    asked = [name for name in form.fields if name.startswith("read-")]
    assert asked == ["read-root_zone_ph", "read-air_temp_c", "read-rh_percent"]
    assert "°F" in form.fields["read-air_temp_c"].label
    phone().post(path_of(look), answers(look, **{"read-air_temp_c": "77"}))
    assert values(look)["air_temp_c"] == pytest.approx(25.0)


def test_an_impossible_reading_is_refused_and_all_that_was_typed_stays():
    look = make_look()
    page = phone().post(path_of(look), answers(look, **{"read-root_zone_ph": "62"}))
    assert page.status_code == 422
    assert "62 is not possible" in words_of(page)
    content = page.content.decode()
    assert "New leaves are green." in content and 'value="62"' in content and 'value="23"' in content
    line = look.plan.actions.filter(included=True)[0]
    assert page.context["form"][f"done-{line.pk}"].value() == "done"
    assert not make_check_in(look).sent_at and values(look) == {}


def test_an_unusual_reading_is_questioned_once_and_kept_when_sent_again():
    look = make_look()
    sent = answers(look, **{"read-air_temp_c": "44"})
    page = phone().post(path_of(look), sent)
    assert page.status_code == 422 and "44 is unusual" in words_of(page)
    assert page.context["form"]["sure-air_temp_c"].value() == "44"
    again = phone().post(path_of(look), {**sent, "sure-air_temp_c": "44"})
    assert again.status_code == 302
    assert make_check_in(look).readings.get(quantity="air_temp_c").unusual


def test_another_unusual_number_is_questioned_anew():
    look = make_look()
    sent = answers(look, **{"read-air_temp_c": "45", "sure-air_temp_c": "44"})
    assert phone().post(path_of(look), sent).status_code == 422


def test_words_instead_of_a_number_are_refused_in_a_sentence():
    look = make_look()
    page = phone().post(path_of(look), answers(look, **{"read-root_zone_ph": "a bit sour"}))
    assert page.status_code == 422 and 'value="a bit sour"' in page.content.decode()


def test_an_empty_form_is_not_an_answer():
    look = make_look()
    page = phone().post(path_of(look), {})
    assert page.status_code == 422 and "One answer is enough" in words_of(page)
    assert not make_check_in(look).sent_at


def test_the_same_form_sent_twice_is_kept_once(news):
    look = make_look()
    for _ in range(2):
        assert phone().post(path_of(look), answers(look)).status_code == 302
    assert CheckIn.objects.count() == 1
    assert make_check_in(look).readings.count() == 3
    assert news == [True]


def test_a_correction_takes_the_place_of_what_was_sent(news):
    look = make_look()
    phone().post(path_of(look), answers(look))
    first = make_check_in(look).sent_at
    page = phone().get(path_of(look))
    assert "You have sent this already" in words_of(page)
    assert page.context["form"]["words"].value() == "New leaves are green."
    changed = answers(look, words="They droop again.", **{"read-root_zone_ph": "6.4", "read-rh_percent": ""})
    phone().post(path_of(look), changed)
    kept = make_check_in(look)
    assert (kept.words, kept.sent_at) == ("They droop again.", first)
    assert values(look) == {"root_zone_ph": 6.4, "air_temp_c": 23.0}
    assert not Reading.objects.filter(quantity="rh_percent", value=60).exists()
    assert news == [True, False]


def test_readings_sent_later_leave_those_of_the_case_alone():
    look = make_look()
    before = {row.quantity: row.value for row in look.plan.case.readings.all()}
    phone().post(path_of(look), answers(look))
    assert {row.quantity: row.value for row in look.plan.case.readings.all()} == before


def test_nothing_is_taken_once_staff_have_closed_the_look():
    look = make_look()
    path = path_of(look)
    look_record(look=look, judged=Judged(came_to=CameTo.BETTER), by=make_staff())
    assert phone().get(path).status_code == 410
    page = phone().post(path, answers(look))
    assert page.status_code == 410 and "looked at already" in words_of(page)
    assert not CheckIn.objects.get().sent_at


def test_what_arrives_in_the_moment_of_closing_is_refused_by_the_service_too(news):
    look = make_look()
    check_in = make_check_in(look)
    look_record(look=look, judged=Judged(came_to=CameTo.BETTER), by=make_staff())
    told = {"actions_done": {}, "changes": {}, "progress": "worse", "words": "", "readings": []}
    with pytest.raises(LookClosedError):
        check_in_send(check_in=check_in, by=None, **told)
    with pytest.raises(LookClosedError):
        check_in_photo(check_in=check_in, upload=shots(64)[0], by=None)
    assert news == [] and not Photo.objects.exists()


def test_the_page_afterwards_says_in_plain_words_when_to_call():
    look = make_look()
    client = phone()
    page = client.post(path_of(look), answers(look), follow=True)
    said = words_of(page)
    assert "Thank you, Nela" in said and "When not to wait for us" in said
    for line in look.plan.actions.filter(included=True):
        assert not line.stop_when or line.stop_when.split("'")[0] in page.content.decode().replace(
            "&#x27;", "'"
        )


def test_the_page_afterwards_needs_something_sent():
    look = make_look()
    sent = path_of(look) + "sent/"
    assert phone().get(sent).status_code == 302


# --- photos ---------------------------------------------------------------------------------------
def shots(*sizes: int):
    return [make_upload(picture_bytes(size=(size, 48)), name=f"{size}.jpg") for size in sizes]


def test_several_photos_arrive_and_are_drawn_anew():
    look = make_look()
    phone().post(path_of(look), answers(look, photos=shots(64, 66, 68)))
    kept = make_check_in(look)
    assert kept.photos.count() == 3
    assert {photo.planting_id for photo in kept.photos.all()} == {look.plan.case.planting_id}


def test_a_hostile_file_is_refused_by_name_and_the_others_and_all_words_stay():
    look = make_look()
    evil = make_upload(b"<?php system($_GET['c']); ?>", name="<img src=x>.jpg")
    page = phone().post(path_of(look), answers(look, photos=[*shots(64), evil]))
    assert page.status_code == 422
    assert "<img src=x>" not in page.content.decode()
    assert "New leaves are green." in page.content.decode()
    assert make_check_in(look).photos.count() == 1 and not make_check_in(look).sent_at
    assert Photo.objects.count() == 1
    assert phone().post(path_of(look), answers(look)).status_code == 302
    assert make_check_in(look).photos.count() == 1


def test_good_photos_are_not_lost_over_a_mistyped_number():
    look = make_look()
    page = phone().post(path_of(look), answers(look, photos=shots(64), **{"read-root_zone_ph": "62"}))
    assert page.status_code == 422 and "do not send them again" in words_of(page)
    assert make_check_in(look).photos.count() == 1


def test_more_photos_at_once_than_allowed_are_refused():
    look = make_look()
    page = phone().post(path_of(look), answers(look, photos=shots(*range(64, 80, 2))))
    assert page.status_code == 422 and "at most 6 photos at once" in words_of(page)
    assert make_check_in(look).photos.count() == 0


def test_the_same_photo_sent_twice_is_kept_once():
    look = make_look()
    for _ in range(2):
        phone().post(path_of(look), answers(look, photos=shots(64)))
    assert make_check_in(look).photos.count() == Photo.objects.count() == 1


def test_photos_of_a_grower_are_not_shown_to_whoever_has_the_link():
    look = make_look()
    phone().post(path_of(look), answers(look, photos=shots(64)))
    photo = Photo.objects.get()
    assert reverse("photo", args=[photo.pk]) not in phone().get(path_of(look)).content.decode()
    assert phone().get(reverse("photo", args=[photo.pk])).status_code == 302


# --- staff with the grower ------------------------------------------------------------------------
def test_staff_fill_in_the_same_form_with_a_grower_who_has_no_email():
    look = make_look(grower={"name": "Nela Quist"})
    client = client_of(Role.COUNTER, first_name="Ada")
    here = reverse("look-check-in", args=[look.pk])
    assert client.get(here).status_code == 200
    assert client.post(here, answers(look)).status_code == 302
    kept = make_check_in(look)
    assert kept.filled_by is not None and kept.readings.count() == 3
    assert "New leaves are green." in words_of(client.get(reverse("follow-up", args=[look.pk])))


def test_staff_cannot_add_to_a_closed_look():
    look = make_look()
    look_record(look=look, judged=Judged(came_to=CameTo.SAME), by=make_staff())
    answer = client_of().post(reverse("look-check-in", args=[look.pk]), answers(look))
    assert answer.status_code == 302 and not CheckIn.objects.get().sent_at
