"""Browser tests: Debian's Chromium on a live server."""

import pytest

from tests.browser.desk import CHROMIUM, desk_at


@pytest.fixture(scope="session")
def browser_type_launch_args():
    return dict(CHROMIUM)


@pytest.fixture(scope="session", autouse=True)
def _database_beside_a_browser():
    """Playwright keeps an event loop in this thread, which Django would take for asynchronous code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        yield


@pytest.fixture
def window(browser, live_server):
    """Opens windows: `with window(viewport=PHONE) as desk: …`."""
    return lambda **options: desk_at(browser, live_server.url, **options)
