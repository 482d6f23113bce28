"""What holds for every page of the site: its headers, its markup, its templates, its manners under junk."""

import re
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from consults.models import Plan
from tests.architecture.world import (
    OPEN_PAGES,
    PAGES,
    PIECES,
    POSTS,
    World,
    all_names,
    make_world,
    names_of,
    take,
)
from tests.factories import signed_in

pytestmark = pytest.mark.django_db
TEMPLATES = sorted(
    path
    for floor in ("garden", "consults", "reports")
    for path in (settings.ROOT / floor).rglob("templates/**/*.html")
)
# Written for paper, not for a browser under our policy: styles may not be linked there, words are.
ON_PAPER = "reports/documents/templates"

# Forms with something to fill in that are not drawn by crispy-forms, and why.
NOT_CRISPY = {
    "shop/today.html": "one search field, drawn as part of the page's head",
    "people/growers.html": "one search field",
    "questions/questions.html": "one search field and a filter",
    "rules/entries.html": "one search field",
    "cases/case.html": "one search field over the checklist; it is never sent",
    "cases/_reckoning.html": "one tick beside each cause, in the middle of the reckoning",
}
# Words that stand in a template and are not language: units, signs, codes.
NOT_LANGUAGE = {"min", "JSON", "PDF"}


# --- the walk is complete -------------------------------------------------------------------------
def test_every_address_is_walked_by_the_tests_of_all_pages():
    listed = names_of(PAGES, OPEN_PAGES, PIECES, POSTS)
    assert set(all_names()) - listed == set(), "add the new address to tests/architecture/world.py"
    assert listed - set(all_names()) == set(), "these addresses are gone; take them out"


@pytest.fixture
def world():
    return make_world()


@pytest.fixture
def answers(world):
    """What the manager gets from every address that answers GET."""
    client = signed_in(world.manager)
    found = {label: client.get(address(world)) for label, address in {**PAGES, **PIECES}.items()}
    found |= {label: Client().get(address(world)) for label, address in OPEN_PAGES.items()}
    found["a missing page"] = client.get("/nowhere/")
    for answer in found.values():
        take(answer)
    return found


# --- headers --------------------------------------------------------------------------------------
def test_every_answer_carries_the_protecting_headers(answers):
    wrong = {}
    for label, answer in answers.items():
        headers = answer.headers
        policy = {
            part.split()[0]: part.split()[1:] for part in headers["Content-Security-Policy"].split("; ")
        }
        held = {
            "default-src": policy["default-src"] == ["'none'"],
            "script-src": policy["script-src"] == ["'self'"],
            "style-src": policy["style-src"] == ["'self'"],
            "frame-ancestors": policy["frame-ancestors"] == ["'none'"],
            "base-uri": policy["base-uri"] == ["'none'"],
            "form-action": policy["form-action"] == ["'self'"],
            "nothing unsafe": "unsafe" not in headers["Content-Security-Policy"],
            "nosniff": headers["X-Content-Type-Options"] == "nosniff",
            "referrer": headers["Referrer-Policy"] == "same-origin",
            "opener": headers["Cross-Origin-Opener-Policy"] == "same-origin",
            "frames": headers["X-Frame-Options"] == "DENY",
        }
        if not all(held.values()):
            wrong[label] = [name for name, holds in held.items() if not holds]
    assert wrong == {}


def test_private_files_are_kept_by_nobody_in_between(answers):
    for label in ("photo", "photo-thumb", "plan-pdf", "plan-pdf, draft"):
        rule = {part.strip() for part in answers[label]["Cache-Control"].split(",")}
        assert "private" in rule, label
        assert not {"public", "immutable"} & rule, label
    assert "no-store" in answers["plan-pdf"]["Cache-Control"]


def test_private_files_have_the_type_they_say(answers):
    assert answers["plan-pdf"].content.startswith(b"%PDF-")
    assert answers["plan-pdf"]["Content-Type"] == "application/pdf"
    assert answers["photo"]["Content-Type"] == answers["photo-thumb"]["Content-Type"] == "image/jpeg"


# --- markup ---------------------------------------------------------------------------------------
class _Forbidden(HTMLParser):
    """Finds what the content policy would block: styles, handlers and scripts written into the page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._script = False

    def handle_starttag(self, tag, attrs):
        names = {name for name, _value in attrs}
        self.found += [
            f"<{tag} {name}>" for name in names if name == "style" or name.startswith(("on", "hx-on"))
        ]
        self.found += ["<style>"] if tag == "style" else []
        self.found += [
            f"{value}" for _name, value in attrs if value and value.strip().startswith("javascript:")
        ]
        self._script = tag == "script" and "src" not in names
        if self._script:
            self.found.append("<script> without src")


def test_no_page_carries_its_own_styles_or_scripts(answers):
    wrong = {}
    for label, answer in answers.items():
        if "text/html" in answer["Content-Type"]:
            reader = _Forbidden()
            reader.feed(answer.content.decode())
            if reader.found:
                wrong[label] = sorted(set(reader.found))
    assert wrong == {}


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: "/".join(path.parts[-2:]))
def test_no_template_carries_its_own_styles_or_scripts(path):
    source = path.read_text()
    assert not re.search(r"\s(style|on[a-z]+|hx-on[:a-z-]*)\s*=\s*[\"']", source)
    assert not re.search(r"<script(?![^>]*\bsrc=)", source)
    assert ON_PAPER in str(path) or "<style" not in source


# --- templates ------------------------------------------------------------------------------------
_FILLED_IN = re.compile(r"<(?:input(?![^>]*type=\"hidden\")|select|textarea)\b")
# Templates that crispy-forms itself fills with a field of a form.
_FIELD_TEMPLATES = {"cases/_finding.html", "cases/_practices.html", "cases/_reading_field.html"}
_PARTS_OF = {"cases/_cause.html": "cases/_reckoning.html"}


def test_forms_are_drawn_by_crispy_forms():
    by_hand = set()
    for path in TEMPLATES:
        name, source = "/".join(path.parts[-2:]), path.read_text()
        if _FILLED_IN.search(source) and name not in _FIELD_TEMPLATES and "as_p" not in source:
            by_hand.add(_PARTS_OF.get(name, name))
        assert not re.search(r"{{\s*[\w.]*form(\.as_\w+)?\s*}}", source), (
            f"{name} draws a form without crispy"
        )
    assert by_hand == set(NOT_CRISPY)


def _words_outside_translation(source: str) -> list[str]:
    """Words a reader would see that no translate tag wraps: what is left without tags, markup and signs."""
    source = re.sub(r"{% comment %}.*?{% endcomment %}|{#.*?#}", " ", source, flags=re.S)
    source = re.sub(r"{% blocktranslate.*?{% endblocktranslate %}", " ", source, flags=re.S)
    source = re.sub(r"{%.*?%}|{{.*?}}", " ", source, flags=re.S)
    shown = re.findall(r"\b(?:alt|title|placeholder|aria-label)=\"([^\"]*)\"", source)
    source = re.sub(r"<(style|script)\b.*?</\1>", " ", source, flags=re.S)
    source = re.sub(r"<[^>]*>", " ", source, flags=re.S)
    return [
        word for word in re.findall(r"[^\W\d_]{2,}", " ".join([source, *shown])) if word not in NOT_LANGUAGE
    ]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: "/".join(path.parts[-2:]))
def test_every_word_of_a_template_can_be_translated(path):
    assert _words_outside_translation(path.read_text()) == []


def test_the_look_for_words_finds_one():
    assert _words_outside_translation("<p class='x'>Plain {% translate 'not this' %} {{ nor.this }}</p>") == [
        "Plain"
    ]
    assert _words_outside_translation('<img alt="A leaf">') == ["leaf"]


# --- junk -----------------------------------------------------------------------------------------
DROP = "\N{DROPLET}"
FIELDS = [
    "name", "phone", "email", "units", "notes", "words", "answer", "grower", "story", "onset_days",
    "planting", "cause", "how", "causes", "codes", "salt-crust", "root_zone_ph-value", "greeting",
    "look_again_on", "text", "when", "quantity", "included", "send_email", "progress", "note",
    "username", "password", "role", "time_zone", "paper", "currency", "next", "file", "photos",
    "kind", "plants", "consult_fee", "seen", "revision", "in_force", "version", "successor", "strength",
    "if_true", "prior", "definition",
]  # fmt: skip
JUNK = {
    "nothing": {},
    "texts": dict.fromkeys(FIELDS, f"\x00'\"><script>alert(1)</script>{DROP} ' OR 1=1 --"),
    "long": dict.fromkeys(FIELDS, "x" * 20_000),
    "numbers": dict.fromkeys(FIELDS, "9" * 400),
    "lists": dict.fromkeys(FIELDS, ["overwatering", "nope", ""] * 20),
}
ASKED = [
    "q", "before", "after", "pk", "status", "state", "grower", "question", "name", "version", "next", "only",
    "for_case",
]  # fmt: skip


def client_that_shows_failures(world: World) -> Client:
    client = signed_in(world.manager)
    client.raise_request_exception = False  # a failure becomes the page a visitor would get
    return client


@pytest.mark.parametrize("junk", JUNK)
def test_junk_sent_to_any_address_is_refused_and_breaks_nothing(world, junk):
    client, wrong = client_that_shows_failures(world), {}
    for label, address in {**POSTS, **PAGES, **PIECES, **OPEN_PAGES}.items():
        if label == "logout":
            continue
        answer = client.post(address(world), JUNK[junk])
        if answer.status_code >= 500:
            wrong[label] = answer.status_code
    assert wrong == {}


def test_a_body_that_is_no_form_is_refused_and_breaks_nothing(world):
    client, wrong = client_that_shows_failures(world), {}
    for label, address in {**POSTS, **PAGES}.items():
        if label == "logout":
            continue
        for kind in ("application/json", "multipart/form-data; boundary=x"):
            answer = client.post(address(world), b"\xff\xfe{[", content_type=kind)
            if answer.status_code >= 500:
                wrong[f"{label}, {kind}"] = answer.status_code
    assert wrong == {}


def test_junk_in_an_address_breaks_nothing(world):
    client, wrong = client_that_shows_failures(world), {}
    for value in ("9" * 40, "-1", "\N{ARABIC-INDIC DIGIT THREE}", "\x00", f"1'{DROP}"):
        for label, address in {**PAGES, **OPEN_PAGES}.items():
            answer = client.get(address(world).split("?")[0], dict.fromkeys(ASKED, value))
            if answer.status_code >= 500:
                wrong[label] = [*wrong.get(label, []), value]
    assert wrong == {}


def test_a_key_too_large_for_the_database_is_a_missing_page(world):
    client = client_that_shows_failures(world)
    for name in (
        "case",
        "grower",
        "plan",
        "plan-edit",
        "photo",
        "question",
        "follow-up",
        "garden-edit",
        "plan-pdf",
    ):
        assert client.get(reverse(name, args=[10**30])).status_code == 404, name


def test_an_issued_plan_is_not_changed_by_any_address(world):
    client = client_that_shows_failures(world)
    before = Plan.objects.filter(pk=world.issued.pk).values().get()
    for label, address in POSTS.items():
        if label.endswith(", issued"):
            sent = {"text": "Changed", "when": "today", "greeting": "Changed", "send_email": "on"}
            assert 300 <= client.post(address(world), sent).status_code < 500, label
    assert Plan.objects.filter(pk=world.issued.pk).values().get() == before
    assert not world.issued.actions.filter(text="Changed").exists()
