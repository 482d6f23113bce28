"""Finding the grower who stands at the counter."""

import pytest
from django.urls import reverse

from garden.people.selectors import PAGE, growers_page
from tests.factories import client_of, make_garden, make_grower, make_planting, queries_of

pytestmark = pytest.mark.django_db


def names(**asked):
    return [grower.name for grower in growers_page(**asked).growers]


@pytest.mark.parametrize(
    "typed",
    ["+43 664 555 0107", "0664 5550107", "(0664) 555-01-07", "0043 664 5550107", "5550107", "664.555.0107"],
)
def test_a_phone_number_is_found_however_it_is_written(typed):
    # National and international forms of one number differ by prefix only (ITU-T E.164; from memory).
    make_grower(name="Ivo", phone="+43 (664) 555 01 07")
    make_grower(name="Other", phone="+43 664 999 8888")
    assert names(query=typed) == ["Ivo"]


def test_a_national_number_on_file_is_found_by_its_international_form():
    make_grower(name="Ivo", phone="0664 5550107")
    assert names(query="+43 664 5550107") == ["Ivo"]


@pytest.mark.parametrize("typed", ["özge", "ÖZGE", "celik özge", "Özge Celik"])
def test_a_name_is_found_by_any_of_its_words_in_any_case(typed):
    make_grower(name="Celik Özge")
    make_grower(name="Celia Ott")
    assert names(query=typed) == ["Celik Özge"]


def test_an_email_is_found_by_a_part_of_it():
    make_grower(name="Ada", email="Ada.W@example.org")
    make_grower(name="Bo", email="bo@example.org")
    assert names(query="ada.w@exam") == ["Ada"]


@pytest.mark.parametrize("typed", ["%", "_", "\x00", "'; DROP TABLE garden_grower; --", "\\", "🌱" * 300])
def test_odd_characters_find_nobody_and_break_nothing(typed):
    make_grower(name="Ada")
    page = client_of().get(reverse("growers"), {"q": typed})
    assert page.status_code == 200
    assert names(query=typed) in ([], ["Ada"])


def test_pages_go_on_where_the_last_one_ended_also_among_equal_names():
    made = {make_grower(name="Same Name").pk for _ in range(PAGE + 7)}
    first = growers_page()
    second = growers_page(after_name=first.after.name, after_pk=first.after.pk)
    assert [len(first.growers), len(second.growers)] == [PAGE, 7]
    assert {row.pk for row in first.growers + second.growers} == made
    assert second.after is None


def test_the_link_to_more_growers_leads_to_the_rest():
    for number in range(PAGE + 1):
        make_grower(name=f"Grower & Sons {number:02d}")
    client = client_of()
    page = client.get(reverse("growers"), {"q": "Grower & Sons"})
    after = page.context["page"].after
    rest = client.get(reverse("growers"), {"q": "Grower & Sons", "name": after.name, "after": after.pk})
    assert "q=Grower+%26+Sons" in page.content.decode()
    assert [row.name for row in rest.context["page"].growers] == [f"Grower & Sons {PAGE:02d}"]


def test_a_broken_place_to_go_on_from_shows_the_beginning():
    make_grower(name="Ada")
    page = client_of().get(reverse("growers"), {"name": "x", "after": "9" * 40})
    assert [row.name for row in page.context["page"].growers] == ["Ada"]


def test_the_last_garden_stands_beside_the_name():
    grower = make_grower(name="Ada")
    make_garden(grower, name="Old shed")
    planting = make_planting(grower)
    planting.space.garden.name = "New tent"
    planting.space.garden.save()
    text = client_of().get(reverse("growers")).content.decode()
    assert "New tent" in text
    assert "Basil" in text
    assert "Old shed" not in text


def test_the_number_of_queries_does_not_grow_with_the_growers():
    client = client_of()
    make_planting()
    few = queries_of(client, reverse("growers"))
    for _ in range(12):
        make_planting()
    assert queries_of(client, reverse("growers")) == few


def test_while_typing_only_the_rows_come_back():
    make_grower(name="Ada")
    page = client_of().get(reverse("growers"), {"q": "ad"}, headers={"HX-Request": "true"})
    assert "Ada" in page.content.decode()
    assert "<html" not in page.content.decode()
    assert "HX-Request" in page["Vary"]


def test_an_emptied_search_box_on_the_start_page_shows_nobody():
    make_grower(name="Ada")
    client = client_of()
    assert client.get(reverse("growers"), {"only": "found", "q": ""}).content == b""
    assert b"Ada" in client.get(reverse("growers"), {"only": "found", "q": "ad"}).content


def test_when_nobody_fits_a_new_grower_is_offered_with_what_was_typed():
    client = client_of("counter")
    page = client.get(reverse("growers"), {"q": "Ada & Co"})
    assert f"{reverse('grower-new')}?q=Ada+%26+Co" in page.content.decode()


@pytest.mark.parametrize(
    ("typed", "field"), [("Ada W", "name"), ("+1 (555) 010-0077", "phone"), ("ada@example.org", "email")]
)
def test_what_was_typed_in_the_search_box_stands_in_the_right_field(typed, field):
    form = client_of().get(reverse("grower-new"), {"q": typed}).context["form"]
    assert form[field].value() == typed


def test_looking_for_the_owner_of_a_case_leads_on_to_the_case():
    grower = make_grower(name="Ada")
    page = client_of().get(reverse("growers"), {"for_case": "1", "question": "7"})
    assert f"{reverse('case-new')}?grower={grower.pk}&amp;question=7" in page.content.decode()


def test_a_grower_entered_for_a_case_leads_on_to_the_case():
    page = client_of().post(
        reverse("grower-new") + "?for_case=1&question=7", {"name": "Ada", "units": "metric"}
    )
    assert page["Location"].startswith(reverse("case-new") + "?grower=")
    assert page["Location"].endswith("&question=7")
