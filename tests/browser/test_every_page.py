"""Every page as people with other eyes, hands, screens and connections meet it."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.architecture.world import OPEN_PAGES, PAGES, PIECES, POSTS, all_names, make_world, names_of
from tests.browser.desk import PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDTHS = (320, 390, 768, 1280)
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture
def world():
    return make_world()


def walk(window, world, **options):
    """A window on each page in turn, as its label says: signed in, or before signing in."""
    with window(**options) as desk:
        for label, address in OPEN_PAGES.items():
            desk.visit(address(world))
            yield label, desk
        desk.sign_in_as(world.manager)
        for label, address in PAGES.items():
            desk.visit(address(world))
            yield label, desk


def unfolded(desk):
    """Everything a person can open stands open."""
    desk.page.evaluate("() => document.querySelectorAll('details').forEach((part) => { part.open = true; })")


def test_every_address_is_a_page_walked_here_or_no_page():
    assert set(all_names()) == names_of(PAGES, OPEN_PAGES) | names_of(PIECES, POSTS)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_page(window, world, scheme):
    found, axe = {}, Axe()
    for label, desk in walk(window, world, color_scheme=scheme, reduced_motion="reduce"):
        unfolded(desk)
        result = axe.run(desk.page, options={"runOnly": WCAG, "resultTypes": ["violations"]})
        for violation in result.response["violations"]:
            where = [node["html"][:120] for node in violation["nodes"]][:3]
            found[f"{label}: {violation['id']}"] = where
    assert found == {}


def test_axe_would_find_a_picture_without_words(window, world):
    with window() as desk:
        desk.visit(OPEN_PAGES["login"](world))
        desk.page.evaluate("() => document.querySelector('main').append(document.createElement('img'))")
        result = Axe().run(desk.page, options={"runOnly": WCAG})
        assert [violation["id"] for violation in result.response["violations"]] == ["image-alt"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_drawers_of_a_phone(window, world, scheme):
    with window(viewport=PHONE, color_scheme=scheme, reduced_motion="reduce") as desk:
        desk.sign_in_as(world.manager)
        desk.open("case", world.case.pk)
        desk.page.locator(".drawer-handle").click()
        result = Axe().run(desk.page, options={"runOnly": WCAG})
        assert [(v["id"], v["nodes"][0]["html"]) for v in result.response["violations"]] == []


def test_every_page_has_one_heading_of_the_first_level_its_landmarks_and_a_title(window, world):
    wrong, titles = {}, {}
    for label, desk in walk(window, world):
        page = desk.page
        found = {
            "h1": page.locator("h1").count() == 1,
            "main": page.get_by_role("main").count() == 1,
            "banner": page.get_by_role("banner").count() == 1,
            "navigation": label in OPEN_PAGES or page.get_by_role("navigation", name="Main").count() == 1,
            "language": page.locator("html").get_attribute("lang") == "en",
            "levels": page.evaluate(
                "() => [...document.querySelectorAll('h1,h2,h3,h4')].map((h) => +h.tagName[1])"
                ".every((level, at, all) => at === 0 || level - all[at - 1] <= 1 || level <= 2)"
            ),
        }
        titles[label] = page.title()
        if not all(found.values()):
            wrong[label] = [name for name, holds in found.items() if not holds]
    assert wrong == {}
    assert all(" · " in title for title in titles.values())


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_scrolls_sideways(window, world, width):
    wide = {}
    for label, desk in walk(window, world, viewport={"width": width, "height": 800}):
        unfolded(desk)
        over = desk.page.evaluate("() => document.documentElement.scrollWidth - window.innerWidth")
        if over > 0:
            wide[label] = over
    assert wide == {}


def test_what_is_touched_is_large_enough_on_a_phone(window, world):
    # WCAG 2.2, success criterion 2.5.8 (Target Size, Minimum): 24 by 24 CSS pixels, links in text excepted.
    small = {}
    for label, desk in walk(window, world, viewport=PHONE):
        found = desk.page.evaluate(
            """() => [...document.querySelectorAll('button, select, summary, .btn, .masthead a, textarea')]
                .filter((e) => e.checkVisibility())
                .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
                .filter(([, box]) => box.width < 24 || box.height < 24).map(([html]) => html)"""
        )
        if found:
            small[label] = found
    assert small == {}


# --- keyboard -------------------------------------------------------------------------------------
FOCUS = """() => {
  const on = document.activeElement, style = getComputedStyle(on);
  const drawn = on.matches('.look-choice input') ? getComputedStyle(on.nextElementSibling) : style;
  return { tag: on.tagName, id: on.id, text: (on.textContent || on.value || '').trim().slice(0, 40),
    seen: drawn.outlineStyle !== 'none' && parseFloat(drawn.outlineWidth) >= 2,
    shown: on.checkVisibility() };
}"""
# Where the Tab key should stop: all that is shown and takes input, once for each group of radio buttons.
STOPS = """() => {
  const kinds = 'a[href], button, input:not([type=hidden]), select, textarea, summary';
  const all = [...document.querySelectorAll(kinds)]
    .filter((e) => e.checkVisibility() && !e.disabled && e.tabIndex >= 0);
  const groups = new Set(all.filter((e) => e.type === 'radio').map((e) => e.name));
  return all.filter((e) => e.type !== 'radio').length + groups.size;
}"""


# The one field people came for has the focus from the beginning.
STARTS_IN_A_FIELD = {"login", "my-password"}


def test_the_skip_link_comes_first_and_leads_to_the_page(window, world):
    missed = []
    for label, desk in walk(window, world):
        if label in STARTS_IN_A_FIELD:
            assert desk.page.evaluate("() => document.activeElement.tagName") == "INPUT"
            continue
        desk.page.keyboard.press("Tab")
        link = desk.page.locator(".skip-link")
        if not link.evaluate("(e) => e === document.activeElement && e.getBoundingClientRect().left >= 0"):
            missed.append(label)
            continue
        desk.page.keyboard.press("Enter")
        if desk.page.evaluate("() => document.activeElement.id") != "content":
            missed.append(label)
    assert missed == []


@pytest.mark.parametrize("label", ["case", "plan-edit", "garden-new"])
def test_the_tab_key_reaches_every_control_and_shows_where_it_is(window, world, label):
    with window() as desk:
        desk.sign_in_as(world.manager)
        desk.visit(PAGES[label](world))
        wanted, hidden, stops = desk.page.evaluate(STOPS), [], 0
        for _press in range(wanted + 20):
            desk.page.keyboard.press("Tab")
            on = desk.page.evaluate(FOCUS)
            if on["tag"] == "BODY":
                break
            stops += 1
            if not (on["seen"] and on["shown"]):
                hidden.append(on)
        assert hidden == []
        assert stops >= wanted


def test_a_finding_is_told_by_the_arrow_keys(window, world):
    code = world.case.findings.filter(state="absent").earliest("pk").code
    with window() as desk:
        desk.sign_in_as(world.manager)
        desk.open("case", world.case.pk)
        group = desk.page.locator(f"#finding-{code}")
        for part in desk.page.locator(f"details:has(#finding-{code})").all():
            if part.get_attribute("open") is None:
                part.locator("> summary").click()
        group.locator("input:checked").focus()
        desk.act(lambda: desk.page.keyboard.press("ArrowRight"), f"/findings/{code}/")
        assert world.case.findings.get(code=code).state == "present"
        expect(group.locator("input:checked")).to_be_focused()
        desk.act(lambda: desk.page.keyboard.press("ArrowRight"), f"/findings/{code}/")
        assert not world.case.findings.filter(code=code).exists()


# --- less of a browser ----------------------------------------------------------------------------
def test_nothing_moves_for_those_who_asked_for_rest(window, world):
    moving = {}
    for label, desk in walk(window, world, reduced_motion="reduce"):
        found = desk.page.evaluate(
            """() => [...document.querySelectorAll('*')].filter((e) => { const s = getComputedStyle(e);
                 return s.animationName !== 'none' || /[1-9]/.test(s.transitionDuration)
                   || s.scrollBehavior === 'smooth'; }).map((e) => e.outerHTML.slice(0, 80)).slice(0, 3)"""
        )
        if found:
            moving[label] = found
    assert moving == {}


def test_every_page_can_be_read_when_its_scripts_do_not_come(window, world):
    unread = {}
    with window(java_script_enabled=False) as desk:
        desk.settle = lambda: None
        desk.sign_in_as(world.manager)
        for label, address in PAGES.items():
            desk.visit(address(world))
            if not desk.page.locator("h1").is_visible() or len(desk.page.locator("main").inner_text()) < 20:
                unread[label] = desk.page.locator("main").inner_text()
        desk.open("case", world.case.pk)
        reckoning = desk.page.locator("#reckoning .cause").first
        if not reckoning.is_visible():
            desk.page.locator(".drawer-handle").click()
        expect(reckoning).to_be_visible()
        desk.open("grower", world.grower.pk)
        expect(desk.page.get_by_role("link", name="All cases")).to_be_visible()
        desk.open("plan", world.issued.pk)
        expect(desk.page.get_by_role("link", name="Open the PDF")).to_be_visible()
    assert unread == {}
