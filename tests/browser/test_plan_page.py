"""What the plan builder keeps when somebody is in a hurry."""

import pytest
from playwright.sync_api import expect

from consults.models import Plan
from tests.consults.plans.making import make_draft
from tests.factories import make_staff

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def draft():
    return make_draft()


@pytest.fixture
def desk(window, draft):
    with window() as desk:
        desk.sign_in_as(make_staff("manager"))
        desk.open("plan-edit", draft.pk)
        yield desk


def test_the_last_edit_is_in_the_plan_that_is_issued_a_moment_later(desk, draft):
    first = draft.actions.filter(included=True).first()
    desk.page.locator(f"#action-{first.pk} textarea").first.fill("Do not water before Friday.")
    desk.page.get_by_role("button", name="Issue the plan").click()
    expect(desk.page.get_by_text("It never changes from now on")).to_be_visible()
    snapshot = Plan.objects.get(pk=draft.pk).snapshot
    assert "Do not water before Friday." in [action["text"] for action in snapshot["actions"]]


def test_a_line_of_our_own_that_was_not_added_holds_the_plan_back(desk, draft):
    own = desk.page.locator("form[data-keep] textarea").first
    own.fill("Send me a photo on Friday.")
    desk.page.get_by_role("button", name="Issue the plan").click()
    expect(desk.page.get_by_text("A line of our own is not in the plan yet")).to_be_visible()
    assert Plan.objects.get(pk=draft.pk).is_draft
    own.fill("")
    desk.page.get_by_role("button", name="Issue the plan").click()
    expect(desk.page.get_by_text("It never changes from now on")).to_be_visible()


def test_an_emptied_line_is_refused_beside_the_field(desk, draft):
    first = draft.actions.filter(included=True).first()
    line = desk.page.locator(f"#action-{first.pk}")
    line.locator("textarea").first.fill("")
    line.locator("textarea").first.blur()
    expect(line.locator(".invalid-feedback").first).to_be_visible()
    assert Plan.objects.get(pk=draft.pk).actions.get(pk=first.pk).text == first.text
