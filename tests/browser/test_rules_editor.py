"""A manager changes the rules in a draft, tries it, publishes it; cases are ranked by it from then on."""

import pytest
from playwright.sync_api import expect

from consults.models.rules import RulesReplay
from consults.rules.replays import Work, replay_work
from consults.rules.selectors import ruleset_current
from tests.architecture.world import make_world
from tests.browser.test_main_job import see

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LINK = ("overwatering", "findings", "medium-stays-wet")


@pytest.fixture
def world():
    return make_world()


@pytest.fixture
def desk(window, world):
    with window() as desk:
        desk.sign_in_as(world.manager)
        yield desk


def weaken(desk):
    """The wet pot then speaks less for overwatering."""
    desk.open("rules-part-edit", *LINK)
    expect(desk.page.get_by_role("radio", name="almost always")).to_be_checked()
    desk.page.get_by_role("radio", name="sometimes").check()
    desk.page.get_by_role("button", name="Save").click()
    expect(desk.page.get_by_text("Saved in the draft.")).to_be_visible()


def test_a_changed_strength_is_seen_published_and_ranks_the_next_case(desk, world):
    old = ruleset_current().version
    desk.open("case", world.fresh.pk)
    see(desk, "medium-stays-wet", "present")
    before = desk.page.locator("#reckoning .cause", has_text="Overwatering").first.inner_text()
    weaken(desk)
    desk.page.get_by_role("link", name="Draft of the rules").click()
    desk.page.get_by_role("link", name="differ").first.click()
    change = desk.page.locator(".difference", has_text="Overwatering")
    expect(change.locator("del")).to_contain_text("almost always")
    expect(change.locator("ins")).to_contain_text("sometimes")
    assert ruleset_current().version == old
    desk.page.get_by_role("link", name="Draft of the rules").click()
    publish = desk.page.locator("#publish")
    publish.get_by_label("What changes and why").fill("")
    publish.get_by_role("button", name="Publish these rules").click()
    expect(publish.get_by_text("Say in a sentence what changes and why.")).to_be_visible()
    expect(publish.get_by_label("What changes and why")).to_be_focused()
    publish.get_by_label("What changes and why").fill("A wet pot alone says less")
    publish.get_by_role("button", name="Publish these rules").click()
    expect(desk.page.get_by_text("are in force.")).to_be_in_viewport()
    new = ruleset_current()
    assert new.version != old
    desk.open("case", world.fresh.pk)
    after = desk.page.locator("#reckoning .cause", has_text="Overwatering").first.inner_text()
    assert after != before


def test_what_a_tried_draft_comes_to_takes_the_place_of_the_progress_without_a_question(desk):
    asked = []
    desk.page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    weaken(desk)
    desk.page.get_by_role("link", name="Draft of the rules").click()
    desk.page.get_by_role("button", name="Try").click()
    expect(desk.page.locator("#replay-progress")).to_be_visible()
    running = RulesReplay.objects.get(state="running")
    while replay_work(running.pk, worker="test") is not Work.OVER:
        pass
    expect(desk.page.locator("#replay-progress")).to_have_count(0, timeout=15_000)
    expect(desk.page.get_by_text("That stay as they are")).to_be_visible()
    expect(desk.page.get_by_role("heading", name="What the cases say")).to_have_count(1)
    assert asked == []


def test_the_rules_that_came_with_the_program_come_back_from_the_page(desk, world):
    before = ruleset_current().version
    weaken(desk)
    desk.open("rules-draft")
    desk.page.locator("#publish").get_by_label("What changes and why").fill("To be taken back")
    desk.page.get_by_role("button", name="Publish these rules").click()
    desk.page.get_by_role("button", name="Put in force", exact=True).click()
    expect(desk.page.get_by_text("are in force again.")).to_be_visible()
    assert ruleset_current().version == before
