"""The rules of diagnosis: read by all, published by the manager."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from consults.models import RulesetVersion
from consults.rules.selectors import ruleset_by_version, ruleset_current
from consults.rules.services import ruleset_publish, ruleset_row
from consults.ruleset.loader import Ruleset, load_bundled
from tests.factories import client_of, make_staff, queries_of, signed_in

pytestmark = pytest.mark.django_db


def changed(change):
    """The bundled rules with something changed, as the JSON text of the export."""
    tables = json.loads(load_bundled().to_json())
    change(tables)
    return json.dumps(tables)


def rename(tables):
    tables["causes"][0]["name"]["en"] = "Quite another name"


def send(content, client=None, note=""):
    data = content if isinstance(content, bytes) else content.encode()
    upload = SimpleUploadedFile("rules.json", data, "application/json")
    return (client or client_of("manager")).post(reverse("rules-publish"), {"file": upload, "note": note})


@pytest.mark.parametrize("role", ["counter", "consultant", "manager"])
def test_everybody_reads_the_rules_and_where_they_come_from(role):
    text = client_of(role).get(reverse("rules")).content.decode()
    bundled = load_bundled()
    assert bundled.version in text
    assert f"{len(bundled.causes)} causes" in text
    assert bundled.causes["overwatering"].definition["en"][:40] in text
    assert "How far we read it" in text
    assert ("Check and publish" in text) is (role == "manager")


def test_without_a_published_version_the_bundled_rules_are_in_force():
    ruleset_row(load_bundled())  # stored by a case, not published
    assert ruleset_current() is load_bundled()


def test_the_manager_publishes_changed_rules():
    person = make_staff("manager")
    page = send(changed(rename), signed_in(person), note="Better name")
    assert page["Location"] == reverse("rules")
    row = RulesetVersion.objects.get()
    assert (row.published_by, row.note) == (person, "Better name")
    assert ruleset_current().version == row.version != load_bundled().version
    assert "Quite another name" in client_of().get(reverse("rules")).content.decode()


def test_an_older_version_comes_back_when_it_is_published_again():
    person = make_staff("manager")
    other = Ruleset.from_json(changed(rename))
    for ruleset in (load_bundled(), other, load_bundled()):
        ruleset_publish(ruleset=ruleset, by=person)
    assert ruleset_current() == load_bundled()
    assert RulesetVersion.objects.count() == 2


def test_a_version_is_stored_once_and_whole():
    first, second = ruleset_row(load_bundled()), ruleset_row(load_bundled())
    assert first == second
    assert Ruleset.from_json(first.content) == load_bundled()


def test_the_rules_of_an_old_case_can_be_read_again():
    other = Ruleset.from_json(changed(rename))
    ruleset_row(other)
    assert ruleset_by_version(other.version) == other
    with pytest.raises(RulesetVersion.DoesNotExist):
        ruleset_by_version("000000000000")


def test_published_rules_that_can_no_longer_be_used_do_not_stop_the_shop(caplog):
    person = make_staff("manager")
    row = ruleset_publish(ruleset=Ruleset.from_json(changed(rename)), by=person)
    RulesetVersion.objects.filter(pk=row.pk).update(version="ffffffffffff", content="{}")
    assert ruleset_current() == load_bundled()
    assert "ffffffffffff" in caplog.text


def drop_finding(tables):
    del tables["findings"][0]["name"]


def odd_strength(tables):
    tables["causes"][0]["findings"][0]["strength"] = "always"


@pytest.mark.parametrize(("change", "field"), [(drop_finding, "name"), (odd_strength, "findings.0.strength")])
def test_what_is_wrong_is_listed_with_entry_and_field_and_nothing_is_published(change, field):
    page = send(changed(change), note="my note")
    text = page.content.decode()
    assert page.status_code == 422
    assert "Nothing was published" in text
    assert field in text
    assert "my note" in text
    assert any(problem.field == field and problem.entry for problem in page.context["form"].problems)
    assert not RulesetVersion.objects.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "This file is empty"),
        (b"\xff\xfe\x00", "not text in UTF-8"),
        (b"not json", "Not readable as JSON"),
        (b"[]", "Must be an object"),
        (b"[" * 100_000, "Not readable as JSON"),
        (b'{"causes": []}', "Must be a list of entries"),
        (b" " * 8_000_001, "larger than 8 MB"),
    ],
)
def test_what_is_no_rule_set_is_refused_in_a_sentence(content, sentence):
    page = send(content)
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert not RulesetVersion.objects.exists()


@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_others_do_not_publish(role):
    assert send(changed(rename), client_of(role)).status_code == 403
    assert not RulesetVersion.objects.exists()


def test_the_export_is_what_the_upload_takes():
    page = client_of("counter").get(reverse("rules-export"))
    assert page["Content-Disposition"] == f'attachment; filename="rules-{load_bundled().version}.json"'
    assert Ruleset.from_json(page.content.decode()) == load_bundled()
    assert send(page.content).status_code == 302


def test_an_older_version_is_exported_by_its_name():
    other = Ruleset.from_json(changed(rename))
    ruleset_row(other)
    client = client_of()
    page = client.get(reverse("rules-export"), {"version": other.version})
    assert Ruleset.from_json(page.content.decode()) == other
    assert client.get(reverse("rules-export"), {"version": "../../etc"}).status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_versions():
    client, person = client_of("manager"), make_staff("manager")
    ruleset_publish(ruleset=load_bundled(), by=person)
    few = queries_of(client, reverse("rules"))
    ruleset_publish(ruleset=Ruleset.from_json(changed(rename)), by=make_staff("manager"))
    ruleset_current()
    assert queries_of(client, reverse("rules")) == few


def test_the_rules_that_came_with_the_program_are_put_in_force_though_never_published():
    manager = client_of("manager")
    send(changed(rename), manager)
    page = manager.get(reverse("rules")).content.decode()
    assert f'name="version" value="{load_bundled().version}"' in page
    manager.post(reverse("rules-back"), {"version": load_bundled().version})
    assert ruleset_current() == load_bundled()
    assert RulesetVersion.objects.count() == 2
