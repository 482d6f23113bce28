"""A person at a browser: opens pages, acts, waits until the answer stands on the page, notes every fault."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser, Page, Response

if TYPE_CHECKING:
    from garden.models import Staff

CHROMIUM = {
    "executable_path": "/usr/bin/chromium",
    "args": [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ],
}
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
_BUSY = ".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added"


class Desk:
    """One browser window on the site. `faults` gathers console errors and broken scripts."""

    def __init__(self, page: Page, site: str) -> None:
        self.page, self.site = page, site
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(f"script: {error}"))
        page.on("console", lambda said: self._note(said.type, said.text))

    def _note(self, kind: str, words: str) -> None:
        refused = "status of 422" in words or "status of 409" in words  # an answer like any other
        if kind == "error" and not refused:
            self.faults.append(f"console: {words} at {self.page.url}")

    def open(self, name: str, *args: Any, query: str = "") -> None:
        """Go to the page of this name."""
        self.visit(reverse(name, args=args) + query)

    def visit(self, address: str) -> Response | None:
        answer = self.page.goto(self.site + address)
        self.settle()
        return answer

    def settle(self) -> None:
        """Wait until nothing is asked or swapped any more."""
        self.page.wait_for_function(f"() => !document.querySelector('{_BUSY}')")

    def act(self, action: Callable[[], Any], answer: str) -> Response:
        """Do something that htmx sends to an address holding `answer`; return what came back, swapped in."""
        self.page.wait_for_load_state()  # scripts come last; before that nobody listens
        with self.page.expect_response(lambda response: answer in response.url) as caught:
            action()
        self.settle()
        return caught.value

    def sign_in_as(self, person: "Staff") -> None:
        """Be signed in as this person, without the form."""
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.page.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": self.site}]
        )

    def leave_a_mark(self) -> None:
        """Mark the page, so that loading it anew would show."""
        self.page.evaluate("() => { window.mark = 'still here'; }")

    def is_the_same_page(self) -> bool:
        return bool(self.page.evaluate("() => window.mark === 'still here'"))


@contextmanager
def desk_at(browser: Browser, site: str, **options: Any) -> Iterator[Desk]:
    """A fresh window; when its block ends without an error, no script may have failed in it."""
    context = browser.new_context(**{"viewport": DESKTOP, "locale": "en-GB", **options})
    context.set_default_timeout(15_000)
    desk = Desk(context.new_page(), site)
    try:
        yield desk
        if desk.faults:
            raise AssertionError("\n".join(desk.faults))
    finally:
        context.close()
