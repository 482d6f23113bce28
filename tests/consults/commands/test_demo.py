"""The demo shop: safe to repeat, refused where its published passwords must not be."""

from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from consults.models import Case, Question, Shop
from consults.models import Ranking as RankingRow
from garden.models import Grower, Planting, Staff

pytestmark = pytest.mark.django_db


def demo() -> str:
    out = StringIO()
    call_command("demo", stdout=out)
    return out.getvalue()


def counts() -> list[int]:
    return [model.objects.count() for model in (Shop, Staff, Grower, Planting, Case, Question, RankingRow)]


def test_the_demo_loads_a_shop_people_cases_and_questions() -> None:
    demo()
    assert Shop.objects.get().name
    assert set(Staff.objects.values_list("role", flat=True)) == {"counter", "consultant", "manager"}
    assert all(Staff.objects.values_list("is_demo", flat=True))
    assert Case.objects.count() >= 4 and Question.objects.filter(answer="").exists()
    assert not Grower.objects.exclude(email="").exclude(email__endswith="@example.com").exists()


def test_loading_it_again_adds_nothing_and_overwrites_nothing() -> None:
    demo()
    before = counts()
    shop = Shop.objects.get()
    shop.name = "Ours by now"
    shop.save()
    person = Staff.objects.get(username="manager")
    person.set_password("another-one-entirely")
    person.save()
    demo()
    assert counts() == before
    assert Shop.objects.get().name == "Ours by now"
    assert Staff.objects.get(username="manager").check_password("another-one-entirely")


def test_the_logins_it_prints_are_the_logins_that_work() -> None:
    lines = [line.split("/") for line in demo().splitlines() if " / " in line and line.startswith("  ")]
    assert len(lines) == 3
    for name, rest in ((line[0].strip(), line[1].split()) for line in lines):
        page = Client().post(reverse("login"), {"username": name, "password": rest[0]})
        assert (page.status_code, page.headers.get("Location")) == (302, reverse("today"))
        assert Staff.objects.get(username=name).check_password(rest[0])


def test_it_is_refused_where_demo_accounts_are_not_allowed(settings: Any) -> None:
    settings.DEMO_ACCOUNTS_ALLOWED = False
    with pytest.raises(CommandError, match="published passwords and are not allowed"):
        demo()
    assert counts() == [0] * 7
