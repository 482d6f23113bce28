"""A grower's link: opens one look, is signed, ends, can be taken back, and shows next to nothing."""

from unittest import mock

import pytest
from django.core.cache import cache
from django.core.signing import TimestampSigner
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from consults.looks.links import LIFETIME, LinkError, check_in_of, check_in_token
from consults.looks.services import link_renew, link_revoke
from consults.models import Erasure
from garden.access import Role
from tests.consults.looks.making import (
    another_name,
    answers,
    make_check_in,
    make_look,
    path_of,
    phone,
    words_of,
)
from tests.factories import client_of, make_staff

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_counted():
    cache.clear()


def refused(token: str) -> bool:
    """Whether a link leads nowhere; the same page whatever the reason."""
    answer = phone().get(reverse("check-in", args=[token]))
    assert answer.status_code in (200, 404)
    return answer.status_code == 404


def test_a_link_opens_its_own_look_without_signing_in():
    look = make_look()
    page = phone().get(path_of(look))
    assert page.status_code == 200
    assert "Hello Nela, how is it now?" in words_of(page)
    assert not refused(check_in_token(make_check_in(look)))


def test_a_link_of_one_grower_never_opens_anothers():
    mine = make_look(**another_name("Ada Marsh"))
    other = make_look(**another_name("Ben Quill"))
    page = words_of(phone().get(path_of(mine)))
    assert "Ada" in page and "Ben" not in page
    pk, key = make_check_in(other).pk, make_check_in(mine).key
    forged = TimestampSigner(salt="consults.looks.links.check-in").sign(f"{pk}.{key}")
    assert refused(forged)
    phone().post(path_of(mine), answers(mine))
    assert make_check_in(mine).sent_at and not make_check_in(other).sent_at


def test_lines_of_another_growers_plan_are_not_taken():
    mine, other = make_look(**another_name("Ada Marsh")), make_look(**another_name("Ben Quill"))
    theirs = other.plan.actions.filter(included=True)[0]
    phone().post(path_of(mine), {f"done-{theirs.pk}": "done", "words": "Hello."})
    assert make_check_in(mine).actions_done == {} and make_check_in(mine).words == "Hello."


@pytest.mark.parametrize("place", [0, 3, -1])
def test_a_tampered_link_leads_nowhere(place):
    token = list(check_in_token(make_check_in()))
    token[place] = "x" if token[place] != "x" else "y"
    assert refused("".join(token))


def test_a_signature_made_for_another_purpose_is_not_accepted():
    found = make_check_in()
    assert refused(
        TimestampSigner(salt="reports.messages.links.no-reminders").sign(f"{found.pk}.{found.key}")
    )


def test_a_link_ends():
    found, long_ago = make_check_in(), timezone.now().timestamp() - LIFETIME.total_seconds() - 60
    with mock.patch("django.core.signing.time.time", return_value=long_ago):
        old = check_in_token(found)
    assert refused(old)
    with mock.patch("django.core.signing.time.time", return_value=long_ago + 3600):
        younger = check_in_token(found)
    assert not refused(younger)


def test_a_link_that_was_taken_back_leads_nowhere():
    found = make_check_in()
    token = check_in_token(found)
    link_revoke(check_in=found, by=make_staff())
    assert refused(token) and refused(check_in_token(found))


def test_a_new_link_ends_the_one_before():
    found = make_check_in()
    token = check_in_token(found)
    link_renew(check_in=found, by=make_staff())
    assert refused(token) and not refused(check_in_token(found))


def test_no_link_opens_anything_of_an_erased_grower():
    look = make_look()
    token = check_in_token(make_check_in(look))
    Erasure.objects.create(grower=look.plan.case.grower, erased_at=timezone.now())
    assert refused(token)


def test_whether_a_link_was_made_up_is_known_to_us_only():
    with pytest.raises(LinkError) as made_up:
        check_in_of("1.abc:def:ghi")
    found = make_check_in()
    token = check_in_token(found)
    link_revoke(check_in=found, by=make_staff())
    with pytest.raises(LinkError) as taken_back:
        check_in_of(token)
    assert (made_up.value.made_up, taken_back.value.made_up) == (True, False)
    pages = [words_of(phone().get(reverse("check-in", args=[one]))) for one in ("1.abc:def:ghi", token)]
    assert pages[0] == pages[1]


def test_guessing_links_is_stopped_for_the_address_and_for_no_other(settings):
    settings.SIGN_IN_FAILURES_PER_ADDRESS = 3
    good = path_of(make_look())
    for _ in range(3):
        assert phone().get(reverse("check-in", args=["1.a:b:c"])).status_code == 404
    assert phone().get(good).status_code == 429
    assert Client(REMOTE_ADDR="198.51.100.7").get(good).status_code == 200


def test_a_link_cannot_be_sent_with_for_ever(settings):
    look = make_look()
    for _ in range(20):
        assert phone().post(path_of(look), {"words": "Again."}).status_code == 302
    assert phone().post(path_of(look), {"words": "Again."}).status_code == 429


def test_the_page_shows_a_first_name_the_crop_and_the_plans_lines_and_nothing_else():
    look = make_look()
    case = look.plan.case
    case.notes = "Owes us money."
    case.save()
    page = phone().get(path_of(look)).content.decode()
    for line in look.plan.actions.filter(included=True):
        assert words_of(phone().get(path_of(look))).count(line.text.split("<")[0][:40])
    causes = [cause["name"] for cause in look.plan.snapshot["causes"]]
    staff = str(look.plan.issued_by)
    for private in ("Quist", "nela@home.example", case.story, "Owes us money", "6.9", staff, *causes):
        assert private not in page, private


def test_the_page_is_kept_out_of_search_engines_and_stores():
    for answer in (phone().get(path_of(make_look())), phone().get(reverse("check-in", args=["1.a:b:c"]))):
        assert "noindex" in answer["X-Robots-Tag"]
        assert b'name="robots" content="noindex' in answer.content
        assert "no-store" in answer["Cache-Control"]


def test_a_form_without_its_token_is_refused():
    look = make_look()
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(path_of(look), answers(look)).status_code == 403
    assert not make_check_in(look).sent_at


def test_staff_make_a_link_and_take_it_back():
    look, client = make_look(), client_of(Role.COUNTER)
    client.post(reverse("look-link", args=[look.pk]))
    link = client.get(reverse("follow-up", args=[look.pk])).context["link"]
    assert phone().get(link).status_code == 200
    client.post(reverse("look-link", args=[look.pk]), {"revoke": "1"})
    assert phone().get(link).status_code == 404
    assert client.get(reverse("follow-up", args=[look.pk])).context["link"] == ""
