"""Getting in, being kept out, and what the counter may not do."""

import pytest
from django.conf import settings
from playwright.sync_api import expect

from tests.architecture.world import make_world
from tests.browser.test_main_job import sign_in
from tests.factories import PASSWORD, make_staff

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_wrong_password_says_so_and_keeps_the_name(window):
    make_staff("counter", username="tilda")
    with window() as desk:
        desk.open("login")
        sign_in(desk, "tilda", "not this one")
        expect(desk.page.get_by_text("Name and password do not fit together.")).to_be_visible()
        expect(desk.page.get_by_label("Username")).to_have_value("tilda")
        sign_in(desk, "tilda")
        expect(desk.page.get_by_role("heading", name="Who is here?")).to_be_visible()


def test_five_wrong_passwords_lock_the_name_for_a_while(window):
    make_staff("counter", username="tilda")
    with window() as desk:
        desk.open("login")
        for _attempt in range(settings.AXES_FAILURE_LIMIT - 1):
            sign_in(desk, "tilda", "not this one")
            expect(desk.page.get_by_text("Name and password do not fit together.")).to_be_visible()
        sign_in(desk, "tilda", "not this one")
        expect(desk.page.get_by_role("heading", name="Too many attempts")).to_be_visible()
        desk.open("login")
        sign_in(desk, "tilda", PASSWORD)
        expect(desk.page.get_by_role("heading", name="Too many attempts")).to_be_visible()
        refused = [fault for fault in desk.faults if "429" in fault]
        assert desk.faults == refused
        desk.faults.clear()


def test_the_counter_enters_findings_but_neither_builds_nor_issues(window):
    world = make_world()
    with window() as desk:
        desk.sign_in_as(world.person)
        desk.open("case", world.case.pk)
        expect(desk.page.get_by_text("A consultant builds and issues the plan.")).to_be_visible()
        expect(desk.page.get_by_role("button", name="Build the plan")).to_have_count(0)
        desk.open("plan", world.issued.pk)
        expect(desk.page.get_by_role("button", name="Write the next version")).to_have_count(0)
        expect(desk.page.get_by_role("button", name="Issue the plan")).to_have_count(0)


def test_somebody_sent_to_sign_in_arrives_where_they_wanted_to_go(window):
    make_staff("counter", username="tilda")
    with window() as desk:
        desk.open("questions")
        sign_in(desk, "tilda")
        expect(desk.page.get_by_role("heading", name="Questions")).to_be_visible()
