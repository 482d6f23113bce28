"""A draft is compared, published, discarded."""

import pytest
from django.urls import reverse

from consults.models import RulesetVersion
from consults.models.rules import RulesDraft
from consults.rules.differences import differences
from consults.rules.selectors import ruleset_current
from consults.rules.services import ruleset_publish
from consults.rules.tables import dump, find, load
from consults.ruleset.loader import Ruleset, load_bundled
from tests.consults.rules.making import break_link, make_draft, raise_prior
from tests.factories import client_of, make_staff

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager():
    return client_of("manager")


def publish(client, **changes):
    draft = RulesDraft.objects.get()
    sent = {"note": "Why not", "revision": draft.revision, "in_force": ruleset_current().version, **changes}
    return client.post(reverse("rules-draft-publish"), sent)


# --- differences ----------------------------------------------------------------------------------
def changes_of(*changes):
    before, after = load(load_bundled().to_json()), load(load_bundled().to_json())
    for change in changes:
        change(after)
    return differences(before, after)


def test_two_that_say_the_same_do_not_differ():
    assert changes_of() == []


def strengthen(tables):
    link = next(
        line for line in find(tables, "causes", "overwatering")["findings"] if line["finding"] == "stunting"
    )
    link["strength"] = "rarely"


def cut_a_habit(tables):
    cause = find(tables, "causes", "overwatering")
    cause["practices"] = [line for line in cause["practices"] if line["practice"] != "waters-daily"]


def shift_a_context(tables):
    find(tables, "causes", "overwatering")["prior_factors"][0]["factor"] = 2.0


def delay_an_action(tables):
    find(tables, "causes", "overwatering")["actions"][0]["when"] = "this-week"


@pytest.mark.parametrize(
    ("change", "label", "before", "after"),
    [
        (raise_prior("overwatering", "rare"), "How common", "common", "rare"),
        (strengthen, "Finding “Stunting”", "often; common practice, no source", "rarely; common"),
        (cut_a_habit, "Practice “Waters every day”", "odds times 4", ""),
        (shift_a_context, "In the context", "odds times 1.5", "odds times 2"),
        (delay_an_action, "Action “let-pot-dry”, when", "today", "this week"),
    ],
)
def test_a_difference_is_one_line_in_words(change, label, before, after):
    (entry,) = changes_of(change)
    (line,) = entry.lines
    assert (entry.name, entry.change) == ("Overwatering", "changed")
    assert line.label.startswith(label), line
    assert line.before.startswith(before)
    assert line.after.startswith(after)
    assert bool(line.after) == bool(after)


def test_a_difference_of_every_field_is_found():
    """Whatever single value differs, the two are told apart by at least one line."""
    base = load(load_bundled().to_json())
    for table in base:
        entry = base[table][0]
        for field, value in entry.items():
            if field in ("code", "id") or value is None:
                continue
            other = load(load_bundled().to_json())
            other[table][0][field] = _another(value, field)
            if other == base:
                continue
            try:
                found = differences(base, other)
            except KeyError:  # a word that is none
                continue
            assert [item.code for item in found] == [entry.get("code") or entry.get("id")], (table, field)
            assert found[0].lines, (table, field)


def _another(value, field):
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, list):
        return value[1:]
    if isinstance(value, dict):
        return {**value, "en": "Another"} if "en" in value else {**value, "days": 99}
    return {"group": "chemical", "prior": "rare", "part": "room"}.get(field, "another")


def test_an_added_and_a_removed_entry_are_told_as_such(manager):
    def swap(tables):
        gone = find(tables, "causes", "thrips")
        tables["causes"].remove(gone)
        tables["causes"].append({**gone, "code": "new-thrips", "name": {"en": "New thrips"}})
        find(tables, "causes", "aphids")["aliases"].append("thrips")

    make_draft(change=swap)
    text = manager.get(reverse("rules-differences")).content.decode()
    assert "removed; its code now stands for “Aphids”" in text
    assert "New thrips" in text


# --- publishing -----------------------------------------------------------------------------------
def test_a_published_draft_is_a_new_version_with_its_note_and_the_draft_is_gone(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    assert publish(manager)["Location"] == reverse("rules")
    row = RulesetVersion.objects.get(published_at__isnull=False)
    assert ruleset_current().version == row.version == Ruleset.from_json(row.content).version
    assert ruleset_current().causes["overwatering"].prior == "rare"
    assert row.note == "Why not"
    assert not RulesDraft.objects.exists()


def test_a_draft_with_something_to_mend_is_kept_but_not_published(manager):
    make_draft(change=break_link)
    publish(manager)
    assert ruleset_current() == load_bundled()
    assert RulesDraft.objects.exists()


def test_a_draft_that_changes_nothing_is_not_published(manager):
    make_draft()
    publish(manager)
    assert not RulesetVersion.objects.filter(published_at__isnull=False).exists()


def test_without_a_word_on_why_nothing_is_published(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    page = publish(manager, note="")
    assert page.status_code == 422
    assert "what changes and why" in page.content.decode()


def test_what_was_not_seen_is_not_published(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    seen = RulesDraft.objects.get().revision
    make_draft(make_staff("manager", first_name="Bo", last_name="Reed"), raise_prior("thrips", "rare"))
    page = manager.get(publish(manager, revision=seen)["Location"])
    assert "Bo Reed changed the draft meanwhile" in page.content.decode()
    assert ruleset_current() == load_bundled()


def test_rules_put_in_force_meanwhile_are_not_undone_unseen(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    before = ruleset_current().version
    tables = load(load_bundled().to_json())
    raise_prior("thrips", "rare")(tables)
    ruleset_publish(ruleset=Ruleset.from_json(dump(tables)), by=make_staff("manager"))
    publish(manager, in_force=before)
    assert ruleset_current().causes["overwatering"].prior != "rare"
    page = manager.get(reverse("rules-draft"))
    assert "other rules were put in force" in page.content.decode()
    labels = {entry.name for entry in page.context["changes"]}
    assert labels == {"Overwatering", "Thrips"}


def test_an_older_version_is_brought_back_with_one_button(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    first = load_bundled()
    ruleset_publish(ruleset=first, by=make_staff("manager"))
    publish(manager)
    manager.post(reverse("rules-back"), {"version": first.version})
    assert ruleset_current() == first
    assert manager.post(reverse("rules-back"), {"version": "nope"}).status_code == 404


def test_discarding_asks_for_what_was_seen(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    manager.post(reverse("rules-draft-discard"), {"revision": 1})
    assert RulesDraft.objects.exists()
    manager.post(reverse("rules-draft-discard"), {"revision": RulesDraft.objects.get().revision})
    assert not RulesDraft.objects.exists()


def test_a_note_is_kept_for_the_day_of_publishing(manager):
    make_draft(change=raise_prior("overwatering", "rare"))
    manager.post(reverse("rules-draft-note"), {"note": "After the July cases"})
    assert (
        manager.get(reverse("rules-draft")).context["publish_form"]["note"].value() == "After the July cases"
    )
