"""The site as a shop serves it: a real server, static files under hashed names, its own data folder."""

import json
import re
from urllib.request import urlopen

import pytest

from tests.browser.desk import desk_at
from tests.browser.site import running_site

pytestmark = pytest.mark.browser
DAY_S = 24 * 3600


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    with running_site(tmp_path_factory.mktemp("shop"), demo=True) as address:
        yield address


def fetch(address):
    with urlopen(address, timeout=20) as answer:
        return answer.status, answer.headers, answer.read()


def test_it_says_how_it_is(site):
    status, _headers, body = fetch(site + "/health")
    assert status == 200
    assert json.loads(body)["status"] == "ok"


def test_the_files_of_a_page_come_and_may_be_kept_for_long(site):
    _status, _headers, body = fetch(site + "/sign-in/")
    files = re.findall(r'(?:href|src)="(/static/[^"]+)"', body.decode())
    kinds = {name.rpartition(".")[2] for name in files}
    assert {"css", "js", "svg"} <= kinds
    for name in files:
        assert re.search(r"\.[0-9a-f]{12}\.\w+$", name), f"{name} carries no hash"
        status, headers, content = fetch(site + name)
        assert status == 200
        assert content
        rule = headers["Cache-Control"]
        assert int(re.search(r"max-age=(\d+)", rule)[1]) > 300 * DAY_S
        assert "immutable" in rule
        assert headers["X-Content-Type-Options"] == "nosniff"


def test_scripts_and_styles_run_under_its_own_policy(browser, site):
    with desk_at(browser, site) as desk:
        desk.page.goto(site + "/")
        desk.page.get_by_label("Username").fill("consultant")
        desk.page.get_by_label("Password").fill("root-slip-2026")
        desk.page.get_by_role("button", name="Sign in").click()
        field = desk.page.get_by_label("Name, phone or email of the grower")
        desk.act(lambda: field.press_sequentially("holl"), "/growers/")
        desk.page.get_by_role("link", name="Mara Holloway").click()
        desk.settle()
        assert desk.page.evaluate("() => typeof htmx") == "object"
