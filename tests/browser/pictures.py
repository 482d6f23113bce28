"""Pictures of every screen of the demo: `python -m tests.browser.pictures OUT [--readme]`.

Starts the demo shop in a folder of its own, walks through it as the manager, and saves each screen at the
width of a desk and of a phone, in light and dark. With --readme the two pictures of the README are made anew.
"""

import argparse
import io
import re
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.browser.desk import CHROMIUM
from tests.browser.site import ROOT, running_site

README = ROOT / "reports" / "pictures"
WIDTHS = {"desk": (1280, 860), "phone": (390, 844)}
MOST_BYTES = 300_000
LOGIN = ("manager", "green-thread-2026")
# Screens that hang on no row. The others are found by following links, as a person would.
PLAIN = {
    "today": "/",
    "growers": "/growers/",
    "nobody-found": "/growers/?q=555+0199",
    "grower-new": "/growers/new/?q=555+0199",
    "questions": "/questions/",
    "question-new": "/questions/new/",
    "cases": "/cases/",
    "looks": "/looks/",
    "messages": "/messages/",
    "rules": "/rules/",
    "shop": "/shop/",
    "staff": "/shop/staff/",
    "staff-new": "/shop/staff/new/",
    "my-password": "/my-password/",
    "missing-page": "/nowhere/",
}
WALK_IN = "Mara Holloway"
_DRAFT = "/rules/draft/"
_LINK = f"{_DRAFT}causes/overwatering/findings/medium-stays-wet/"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--readme", action="store_true", help="also write the pictures of the README")
    parser.add_argument("--only", default="", help="screens whose name holds this text")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        running_site(Path(folder)) as site,
        sync_playwright() as play,
    ):
        browser = play.chromium.launch(**CHROMIUM)
        screens = _screens(browser, site)
        for width in WIDTHS:
            for scheme in ("light", "dark"):
                _take(browser, site, screens, width, scheme, options)
        if options.readme:
            _readme(browser, site, screens)
        browser.close()


def _signed_in(browser: Browser, site: str, width: str, scheme: str) -> BrowserContext:
    wide, high = WIDTHS[width]
    context = browser.new_context(
        base_url=site, viewport={"width": wide, "height": high}, color_scheme=scheme, locale="en-GB"
    )
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Name").fill(LOGIN[0])
    page.get_by_label("Password").fill(LOGIN[1])
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Who is here?").wait_for()
    page.close()
    return context


def _screens(browser: Browser, site: str) -> dict[str, str]:
    """The address of every screen, by its name in the pictures; a draft is made on the way."""
    context = _signed_in(browser, site, "desk", "light")
    page = context.new_page()
    found = dict(PLAIN)

    def follow(name: str, start: str, link: str | re.Pattern[str]) -> str:
        page.goto(start)
        page.get_by_role("main").get_by_role("link", name=link).first.click()
        page.wait_for_load_state()
        found[name] = page.url.removeprefix(site)
        return found[name]

    grower = follow("grower", "/growers/", WALK_IN)
    follow("grower-edit", grower, "Change")
    follow("garden-new", grower, "Another garden")
    follow("garden-edit", grower, "Open and change")
    follow("case-new", grower, "New case")
    follow("question", "/questions/", re.compile("tap water"))
    follow("staff-edit", "/shop/staff/", re.compile("Brandt|counter"))
    follow("look", "/looks/", re.compile(WALK_IN))
    issued = follow("case-with-plan", "/cases/", re.compile(WALK_IN))
    follow("plan", issued, re.compile("Version 1"))
    case = follow("case", "/cases/", re.compile("Merrow"))
    page.goto(case)
    page.get_by_role("button", name="Build the plan").click()
    page.wait_for_load_state()
    found["plan-edit"] = page.url.removeprefix(site)
    found["interview"] = f"{case}interview/"
    found["case-rules"] = f"{issued}rules/"
    found |= _rules_screens(page, site)
    context.close()
    return found


def _rules_screens(page: Page, site: str) -> dict[str, str]:
    """The screens of a draft of the rules with one changed strength, tried on the cases of the demo."""
    page.goto(_DRAFT)
    page.get_by_role("button", name="Start a draft").click()
    page.goto(_LINK)
    page.get_by_role("radio", name="sometimes").check()
    page.get_by_role("button", name="Save").click()
    page.goto(_DRAFT)
    page.get_by_role("button", name="Try the draft").click()
    page.wait_for_url("**/replays/*/")
    replay = page.url.removeprefix(site)
    page.locator("#replay-progress").wait_for(state="detached", timeout=120_000)
    return {
        "rules-draft": _DRAFT,
        "rules-list": f"{_DRAFT}causes/",
        "rules-entry": f"{_DRAFT}causes/overwatering/",
        "rules-link": _LINK,
        "rules-cause-new": f"{_DRAFT}new/causes/",
        "rules-differences": f"{_DRAFT}differences/",
        "rules-replay": replay,
    }


def _take(
    browser: Browser,
    site: str,
    screens: dict[str, str],
    width: str,
    scheme: str,
    options: argparse.Namespace,
) -> None:
    stranger = browser.new_context(
        base_url=site,
        viewport=dict(zip(("width", "height"), WIDTHS[width], strict=True)),
        color_scheme=scheme,
    )
    _save(stranger.new_page(), "/sign-in/", options.out / f"sign-in-{width}-{scheme}.png")
    stranger.close()
    context = _signed_in(browser, site, width, scheme)
    page = context.new_page()
    for name, address in screens.items():
        if options.only in name:
            _save(page, address, options.out / f"{name}-{width}-{scheme}.png")
    if width == "phone" and options.only in "case":
        page.goto(screens["case"])
        page.locator(".drawer-handle").click()
        page.screenshot(path=options.out / f"case-drawer-{width}-{scheme}.png")
    context.close()


def _save(page: Page, address: str, path: Path) -> None:
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.screenshot(path=path, full_page=True)


def _readme(browser: Browser, site: str, screens: dict[str, str]) -> None:
    README.mkdir(exist_ok=True)
    context = _signed_in(browser, site, "desk", "light")
    page = context.new_page()
    page.goto(screens["case-with-plan"])
    page.wait_for_load_state("networkidle")
    _keep(Image.open(io.BytesIO(page.screenshot())), README / "case.png")
    plan = context.request.get(screens["plan"] + "plan.pdf")
    _keep(pypdfium2.PdfDocument(plan.body())[0].render(scale=1.6).to_pil(), README / "plan.png")
    context.close()


def _keep(image: Image.Image, path: Path) -> None:
    """As a PNG of few colours, small enough for a README."""
    image.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(path, optimize=True)
    if path.stat().st_size > MOST_BYTES:
        raise SystemExit(f"{path.name} has {path.stat().st_size} bytes; at most {MOST_BYTES} are meant.")


if __name__ == "__main__":
    main()
