"""The start page: what waits for whom."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from consults.models import Shop
from consults.shop import panels
from tests.factories import (
    client_of,
    make_case,
    make_follow_up,
    make_grower,
    make_plan,
    make_planting,
    make_question,
    queries_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_panels_only(monkeypatch):
    monkeypatch.setattr(panels, "_registered", [])


def panel(code):
    return next(panel for panel in panels.today_panels()["panels"] if panel.code == code)


def test_an_empty_day_says_what_to_do():
    text = client_of("counter").get(reverse("today")).content.decode()
    assert "Who is here?" in text
    assert reverse("question-new") in text
    assert reverse("grower-new") in text
    assert all(panel.empty.endswith(".") for panel in panels.today_panels()["panels"])


def test_open_questions_wait_and_answered_ones_do_not():
    make_question(words="Waiting", grower=make_grower(name="Ada"))
    make_question(words="Done", answer="Yes", answered_at=timezone.now())
    (row,) = panel("questions").rows
    assert row.name == "Waiting"
    assert row.note.startswith("Ada")


def test_a_case_waits_until_it_has_a_plan_and_then_the_plan_waits():
    case = make_case(make_planting(make_grower(name="Ada")))
    assert [row.name for row in panel("cases").rows] == ["Ada · Basil"]
    make_plan(case)
    assert panel("cases").rows == ()
    assert [row.url for row in panel("drafts").rows] == [reverse("case", args=[case.pk])]


def test_a_closed_case_waits_for_nothing():
    make_case(status="closed")
    make_plan(make_case(status="closed"))
    assert panel("cases").rows == panel("drafts").rows == ()


def test_looks_due_today_and_overdue_are_shown_the_oldest_first():
    today = timezone.localdate()
    for days in (0, -3, 4):
        make_follow_up(today + datetime.timedelta(days=days))
    assert [row.tag.replace("\xa0", " ") for row in panel("looks").rows] == ["3 days late", "today"]


def test_a_look_that_was_made_is_not_due():
    look = make_follow_up(timezone.localdate())
    look.done_at, look.progress = timezone.now(), "better"
    look.save()
    assert panel("looks").rows == ()


def test_the_next_look_is_named_when_none_is_due():
    make_follow_up(timezone.localdate() + datetime.timedelta(days=4))
    assert "The next look is on" in panel("looks").empty


def test_today_is_the_day_of_the_shop_and_not_of_the_server():
    # Kiritimati is 14 h ahead of UTC and Pago Pago 11 h behind (IANA time zone database): always another day.
    days = []
    for name in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        with timezone.override(name):
            days.append(timezone.localdate())
    assert days[0] > days[1]
    make_follow_up(days[0])
    client = client_of()
    for zone, due in (("Pacific/Kiritimati", 1), ("Pacific/Pago_Pago", 0)):
        Shop.objects.update_or_create(pk=1, defaults={"time_zone": zone})
        shown = client.get(reverse("today")).context["panels"]
        assert next(panel for panel in shown if panel.code == "looks").total == due


def test_a_long_list_is_cut_and_says_how_many_more():
    for _ in range(panels.SHOWN + 3):
        make_question()
    shown = panel("questions")
    assert (len(shown.rows), shown.total, shown.left_over) == (panels.SHOWN, panels.SHOWN + 3, 3)
    assert "and 3 more" in client_of().get(reverse("today")).content.decode()


def test_floors_above_add_their_panel_once():
    def extra():
        row = panels.PanelRow("/x/", "A letter <b>", tag="failed", tag_class="tag-stop")
        return panels.Panel("extra", "Letters", (row,), 1, "No letter.")

    panels.register_panel(extra)
    panels.register_panel(extra)
    text = client_of().get(reverse("today")).content.decode()
    assert text.count("A letter &lt;b&gt;") == 1


def test_the_number_of_queries_does_not_grow_with_the_work():
    def work():
        make_question(grower=make_grower())
        make_case()
        make_follow_up(timezone.localdate(), make_plan())

    client = client_of()
    work()
    few = queries_of(client, reverse("today"))
    for _ in range(6):
        work()
    assert queries_of(client, reverse("today")) == few
