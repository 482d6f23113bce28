"""A consultant asks one thing at a time, takes an answer back, and stops when enough is known."""

import pytest
from playwright.sync_api import expect

from tests.architecture.world import make_world
from tests.browser.desk import PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST = 40  # questions until an end must have come
UNKNOWN = ("Cannot tell now", "Nobody knows", "Cannot measure it now")


@pytest.fixture
def world():
    world = make_world()
    world.fresh.findings.create(code="medium-stays-wet", state="present")
    return world


def question(desk):
    return desk.page.get_by_role("heading", level=1).inner_text()


def reply(desk, *names):
    """Press the first of these answers that the question has; return what was asked."""
    asked = question(desk)
    said = [desk.page.get_by_role("button", name=name, exact=True) for name in names]
    next(button for button in said if button.count()).click()
    desk.page.wait_for_load_state()
    return asked


def test_three_answers_one_taken_back_and_the_end(window, world):
    case = world.fresh
    with window(viewport=PHONE) as desk:
        desk.sign_in_as(world.manager)
        desk.open("case", case.pk)
        desk.page.get_by_role("link", name="Ask one thing at a time").click()
        expect(desk.page.get_by_text("Question 1", exact=False)).to_be_visible()
        asked = [reply(desk, "No, looked and not there", "No", *UNKNOWN) for _ in range(3)]
        assert len(set(asked)) == 3
        told = case.findings.count()
        desk.page.get_by_role("button", name="Take the last answer back").click()
        expect(desk.page.get_by_role("heading", level=1)).to_have_text(asked[2])
        assert case.findings.count() in (told, told - 1)
        for _ in range(MOST):
            if question(desk) in ("Enough asked", "Nothing left to ask"):
                break
            reply(desk, "No, looked and not there", "No", *UNKNOWN)
        desk.page.get_by_role("link", name="To the case and its plan").click()
        expect(desk.page.locator("#finding-medium-stays-wet input[value=present]")).to_be_checked()


def test_it_is_answered_by_the_keyboard_alone_and_left_before_the_end(window, world):
    with window() as desk:
        desk.sign_in_as(world.manager)
        desk.open("interview", world.fresh.pk)
        first = question(desk)
        desk.page.keyboard.press("Tab")
        desk.page.keyboard.press("Enter")  # over the links of the masthead
        while desk.page.evaluate("() => !document.activeElement.closest('.replies')"):
            desk.page.keyboard.press("Tab")
        desk.page.keyboard.press("Enter")
        expect(desk.page.get_by_text("Question 2", exact=False)).to_be_visible()
        assert question(desk) != first
        desk.page.get_by_role("link", name="Stop here, to the case").click()
        expect(desk.page.get_by_role("link", name="Ask one thing at a time")).to_be_visible()
