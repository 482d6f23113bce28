"""What the case page keeps while the ranking moves beside it."""

import pytest
from playwright.sync_api import expect

from tests.architecture.world import make_world
from tests.browser.test_main_job import see

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def desk(window):
    world = make_world()
    with window() as desk:
        desk.sign_in_as(world.manager)
        desk.open("case", world.fresh.pk)
        yield desk


def test_a_cause_ticked_by_hand_stays_ticked_when_the_ranking_moves(desk):
    see(desk, "salt-crust", "present")
    desk.page.get_by_role("checkbox", name="Overwatering", exact=True).check()
    see(desk, "fungus-gnats", "present")
    see(desk, "medium-stays-wet", "present")
    for name in ("Overwatering", "Salt build-up"):
        expect(desk.page.get_by_role("checkbox", name=name, exact=True)).to_be_checked()


def test_what_is_typed_in_one_field_survives_the_answer_to_another(desk):
    desk.page.get_by_label("Our notes").fill("Looks thirsty")
    desk.page.get_by_label("The story, in the grower's own words").press_sequentially("It began on Monday.")
    desk.act(lambda: see(desk, "salt-crust", "present"), "/story/")
    expect(desk.page.get_by_label("Our notes")).to_have_value("Looks thirsty")
    expect(desk.page.locator("#story-saved")).to_contain_text("Saved")


def test_the_next_check_leads_to_its_finding_wherever_it_is_folded_away(desk):
    see(desk, "salt-crust", "present")
    link = desk.page.locator(".look-next a").first
    target = link.get_attribute("href")
    link.click()
    expect(desk.page.locator(target)).to_be_in_viewport()
    expect(desk.page.locator(f"{target} input:focus")).to_have_count(1)


def test_a_lost_connection_is_said_and_nothing_typed_is_lost(desk):
    desk.page.context.set_offline(True)
    field = desk.page.locator("#reading-root_zone_ph")
    for part in desk.page.locator("details:has(#reading-root_zone_ph)").all():
        part.locator("> summary").click()
    field.locator("input[type=text]").fill("6.2")
    field.locator("input[type=text]").blur()
    expect(desk.page.get_by_text("The connection is gone.")).to_be_visible()
    expect(field.locator("input[type=text]")).to_have_value("6.2")
    desk.page.context.set_offline(False)
    desk.act(lambda: field.locator("input[type=text]").press("Enter"), "/readings/")
    expect(desk.page.get_by_text("The connection is gone.")).to_be_hidden()
    expect(field).to_contain_text("wants")
    desk.faults.clear()  # the browser itself reports the request that could not leave


def test_who_types_and_goes_on_at_once_loses_nothing(desk):
    desk.page.get_by_label("The story, in the grower's own words").fill(
        "It began on Monday, after the holiday."
    )
    desk.page.get_by_role("link", name="Change the garden").click()
    expect(desk.page.get_by_role("heading", name="Change the garden")).to_be_visible()
    desk.page.go_back()
    desk.page.reload()
    story = desk.page.get_by_label("The story, in the grower's own words")
    expect(story).to_have_value("It began on Monday, after the holiday.")


def test_a_save_that_is_refused_is_said_and_can_be_sent_again(desk):
    cookies = desk.page.context.cookies()
    desk.page.context.clear_cookies()
    notes = desk.page.get_by_label("Our notes")
    notes.fill("Look at the roots")
    notes.blur()
    expect(desk.page.locator("#lost")).to_be_visible()
    expect(notes).to_have_value("Look at the roots")
    desk.page.context.add_cookies(cookies)
    desk.act(lambda: desk.page.get_by_role("button", name="Send again").click(), "/story/")
    expect(desk.page.locator("#lost")).to_be_hidden()
    expect(desk.page.locator("#story-saved")).to_contain_text("Saved")
    desk.faults.clear()  # the browser itself reports the answer 401 or 403


def test_a_sign_is_found_by_typing_part_of_its_words(desk):
    desk.page.get_by_label("Find a sign").fill("white crust")
    expect(desk.page.locator("#finding-salt-crust")).to_be_visible()
    expect(desk.page.locator("#finding-fungus-gnats")).to_be_hidden()


def test_what_the_story_suggests_is_taken_with_one_tap_and_ticked_in_the_checklist(desk):
    story = desk.page.get_by_label("The story, in the grower's own words")
    story.fill("There is a white crust on the pot. No bugs on the leaves.")
    desk.act(story.blur, "/story/")
    row = desk.page.locator("#suggestions li", has_text="white crust on the pot")
    desk.act(row.get_by_role("button", name="Right").click, "/words/")
    expect(row).to_have_count(0)
    expect(desk.page.locator("#finding-salt-crust input[value=present]")).to_be_checked()
    expect(desk.page.locator("#reckoning")).to_contain_text("Salt build-up")
    bugs = desk.page.locator("#suggestions li", has_text="Not there")
    desk.act(bugs.get_by_role("button", name="Right").click, "/words/")
    expect(desk.page.locator("#finding-pests-on-leaves input[value=absent]")).to_be_checked()
    expect(desk.page.locator("#suggestions")).to_be_empty()


def test_suggestions_are_taken_one_after_the_other_by_the_keyboard(desk):
    story = desk.page.get_by_label("The story, in the grower's own words")
    story.fill("There is a white crust on the pot. No bugs on the leaves.")
    desk.act(story.blur, "/story/")
    rows = desk.page.locator("#suggestions li")
    expect(rows).to_have_count(2)
    rows.first.get_by_role("button", name="Right").focus()
    desk.act(lambda: desk.page.keyboard.press("Enter"), "/words/")
    expect(rows).to_have_count(1)
    expect(rows.first.get_by_role("button", name="Right")).to_be_focused()
    desk.act(lambda: desk.page.keyboard.press("Enter"), "/words/")
    expect(rows).to_have_count(0)
