"""A manager edits the draft of the rules in the browser, one piece at a time."""

import re

import pytest
from django.urls import reverse

from consults.models.rules import RulesDraft
from consults.rules.drafts import draft_change
from consults.rules.selectors import ruleset_current
from consults.rules.tables import PARTS, find
from consults.ruleset.loader import load_bundled
from garden.reference.schema import NO_SOURCE
from tests.consults.rules.making import break_link, drafted, form_of, make_draft, raise_prior
from tests.factories import client_of, make_staff, queries_of, signed_in

pytestmark = pytest.mark.django_db
ENTRY = {
    "causes": "overwatering",
    "findings": "salt-crust",
    "practices": "waters-daily",
    "conditions": "root-zone-ph-very-high",
    "sources": "huang-high-ph",
}
LINE = {
    "findings": "fungus-gnats",
    "readings": "vpd-low",
    "practices": "waters-daily",
    "prior_factors": "1",
    "actions": "let-pot-dry",
}


@pytest.fixture
def manager():
    return client_of("manager", first_name="Ada", last_name="Marsh")


@pytest.fixture
def draft():
    return make_draft()


def send(client, name, /, *args, **values):
    """Send a form as it stands with some fields changed."""
    sent = {**form_of(client, name, *args), **values}
    return client.post(reverse(name, args=args), sent)


# --- the draft ------------------------------------------------------------------------------------
def test_a_draft_begins_as_the_rules_in_force_and_changes_nothing_at_the_counter(manager):
    assert "Start a draft" in manager.get(reverse("rules-draft")).content.decode()
    assert manager.post(reverse("rules-draft-start"))["Location"] == reverse("rules-draft")
    assert RulesDraft.objects.get().content == load_bundled().to_json()
    send(manager, "rules-entry-edit", "causes", "overwatering", prior="rare")
    assert ruleset_current() == load_bundled()


def test_there_is_one_draft_which_all_managers_share(manager):
    manager.post(reverse("rules-draft-start"))
    client_of("manager").post(reverse("rules-draft-start"))
    assert RulesDraft.objects.count() == 1


@pytest.mark.parametrize("table", ENTRY)
def test_entries_are_listed_and_searched(manager, draft, table):
    entry = drafted(table, ENTRY[table])
    name = entry.get("title") or entry["name"]["en"]
    found = manager.get(reverse("rules-list", args=[table]), {"q": name.upper()}).context["rows"]
    everything = manager.get(reverse("rules-list", args=[table])).context["rows"]
    assert ENTRY[table] in [row.code for row in found]
    assert len(found) < len(everything) == len(getattr(load_bundled(), table))
    assert not manager.get(reverse("rules-list", args=[table]), {"q": "zzzz"}).context["rows"]


# --- changing -------------------------------------------------------------------------------------
@pytest.mark.parametrize("table", ENTRY)
def test_a_form_sent_back_as_it_was_changes_nothing(manager, draft, table):
    for code in list(getattr(load_bundled(), table))[:: 1 if table == "conditions" else 6]:
        page = send(manager, "rules-entry-edit", table, code)
        assert page.status_code == 302, (code, page.context["form"].errors)
    assert RulesDraft.objects.get().content == load_bundled().to_json()


@pytest.mark.parametrize("part", LINE)
def test_a_line_sent_back_as_it_was_changes_nothing(manager, draft, part):
    for code in ("overwatering", "salt-buildup", "pythium-root-rot"):
        cause = drafted("causes", code)
        for at, line in enumerate(cause[part]):
            key = line[PARTS[part]] if PARTS[part] else str(at)
            page = send(manager, "rules-part-edit", code, part, key)
            assert page.status_code == 302, (key, page.context["form"].errors)
    assert RulesDraft.objects.get().content == load_bundled().to_json()


def test_every_field_of_a_cause_is_changed_by_its_form(manager, draft):
    values = {
        "name": "Too much water",
        "group": "climate",
        "definition": "Roots lack air.",
        "prior": "rare",
        "urgency": "3",
        "contagious": "on",
        "wrong_cost": "A dry day.",
        "better_text": "It stands up.",
        "better_days": "9",
        "look_again_days": "4",
        "laboratory": "",
    }
    send(manager, "rules-entry-edit", "causes", "overwatering", **values)
    cause, before = drafted("causes", "overwatering"), load_bundled().causes["overwatering"]
    assert cause["name"] == {"en": "Too much water"}
    assert (cause["group"], cause["prior"], cause["urgency"], cause["contagious"]) == (
        "climate",
        "rare",
        3,
        True,
    )
    assert cause["better"] == {"text": {"en": "It stands up."}, "days": 9}
    assert (cause["look_again_days"], cause["laboratory"]) == (4, None)
    assert len(cause["findings"]) == len(before.findings)


def test_a_number_is_taken_with_a_comma(manager, draft):
    send(manager, "rules-part-edit", "overwatering", "practices", "waters-daily", if_true="2,5")
    lines = drafted("causes", "overwatering")["practices"]
    assert next(line for line in lines if line["practice"] == "waters-daily")["if_true"] == 2.5


def test_synonyms_are_one_on_each_line(manager, draft):
    said = "white crust\n\n  salt   on top \nwhite crust"
    send(manager, "rules-entry-edit", "findings", "salt-crust", synonyms=said)
    assert drafted("findings", "salt-crust")["synonyms"] == ["white crust", "salt on top"]


@pytest.mark.parametrize(
    ("edge", "numbers", "expected"),
    [
        ("above_value", {"value": "7.5", "by": ""}, {"above_value": 7.5, "above": None, "by": 0.0}),
        ("below.wide_low", {"value": "", "by": "0.2"}, {"below": "wide_low", "above": None, "by": 0.2}),
    ],
)
def test_a_reading_condition_compares_with_a_number_or_an_end_of_the_band(
    manager, draft, edge, numbers, expected
):
    send(manager, "rules-entry-edit", "conditions", "root-zone-ph-very-high", edge=edge, **numbers)
    entry = drafted("conditions", "root-zone-ph-very-high")
    assert {key: entry[key] for key in expected} == expected


def test_a_condition_that_is_no_comparison_is_told_at_its_field(manager, draft):
    page = send(manager, "rules-entry-edit", "conditions", "root-zone-ph-high", edge="above_value", value="")
    assert page.status_code == 422
    assert "Write the number" in str(page.context["form"].errors["value"])


def test_words_for_strength_are_explained(manager, draft):
    page = manager.get(reverse("rules-part-edit", args=["overwatering", "findings", "fungus-gnats"]))
    assert "often: about 7 in 10 plants with this cause show it" in page.content.decode()


def test_an_action_of_several_causes_is_changed_in_all_of_them(manager, draft):
    page = send(
        manager, "rules-part-edit", "overwatering", "actions", "check-roots", text="Look at the roots."
    )
    assert page.status_code == 302
    texts = {
        action["text"]["en"]
        for cause in load_bundled().causes
        for action in drafted("causes", cause)["actions"]
        if action["code"] == "check-roots"
    }
    assert texts == {"Look at the roots."}


def test_an_action_says_when_it_cannot_be_undone(manager, draft):
    send(manager, "rules-part-edit", "overwatering", "actions", "let-pot-dry", final="on")
    action = next(a for a in drafted("causes", "overwatering")["actions"] if a["code"] == "let-pot-dry")
    assert action["reversible"] is False
    assert "can be undone" in manager.get(reverse("rules-differences")).content.decode()


def test_what_was_removed_or_changed_meanwhile_is_not_removed_or_written_again(manager, draft):
    address = reverse("rules-part-edit", args=["overwatering", "findings", "stunting"])
    mine = form_of(manager, "rules-part-edit", "overwatering", "findings", "stunting")
    old = manager.get(address).context["seen"]
    manager.post(reverse("rules-part-remove", args=["overwatering", "findings", "stunting"]), {"seen": old})
    assert manager.post(address, mine).status_code == 404
    assert (
        "somebody changed it"
        in manager.post(
            reverse("rules-part-remove", args=["overwatering", "findings", "fungus-gnats"]),
            {"seen": "0"},
            follow=True,
        ).content.decode()
    )


# --- adding ---------------------------------------------------------------------------------------
CAUSE = {
    "name": "Salt spray",
    "group": "chemical",
    "definition": "Salt wind burns leaves.",
    "prior": "rare",
    "urgency": "1",
    "wrong_cost": "Nothing.",
    "better_text": "New leaves are whole.",
    "better_days": "7",
    "look_again_days": "7",
}


def add(client, **changes):
    return client.post(reverse("rules-entry-new", args=["causes"]), {**CAUSE, **changes})


def test_a_new_cause_gets_a_code_from_its_name_and_is_incomplete_until_it_shows_something(manager, draft):
    page = add(manager)
    assert page["Location"] == reverse("rules-entry", args=["causes", "salt-spray"])
    text = manager.get(page["Location"]).content.decode()
    assert "To be mended" in text
    assert "needs at least one finding" in text
    link = {"finding": "salt-crust", "strength": "often", "source": NO_SOURCE}
    manager.post(reverse("rules-part-new", args=["salt-spray", "findings"]), link)
    assert "To be mended" not in manager.get(page["Location"]).content.decode()
    assert drafted("causes", "salt-spray")["findings"] == [link]


def test_a_new_link_says_its_source_or_that_there_is_none(manager, draft):
    address = reverse("rules-part-new", args=["overwatering", "findings"])
    form = manager.get(address).context["form"]
    assert form["source"].value() is None
    sent = {"finding": "salt-crust", "strength": "rarely"}
    page = manager.post(address, sent)
    assert "common practice without one" in str(page.context["form"].errors["source"])
    assert manager.post(address, {**sent, "source": NO_SOURCE}).status_code == 302


@pytest.mark.parametrize("part", ["readings", "practices", "prior_factors", "actions"])
def test_every_kind_of_line_can_be_added_and_removed(manager, draft, part):
    sent = {
        "readings": {"condition": "root-zone-ph-low", "if_true": "2", "if_false": "1", "source": NO_SOURCE},
        "practices": {"practice": "alkaline-tap-water", "if_true": "2", "source": NO_SOURCE},
        "prior_factors": {
            "in_crops": ["basil"],
            "in_media": ["rockwool"],
            "factor": "2",
            "source": NO_SOURCE,
        },
        "actions": {"code": "lift-it", "text": "Lift it.", "why": "To know.", "when": "today"},
    }[part]
    before = drafted("causes", "overwatering")[part]
    page = manager.post(reverse("rules-part-new", args=["overwatering", part]), sent)
    assert page.status_code == 302, page.context["form"].errors
    after = drafted("causes", "overwatering")[part]
    assert len(after) == len(before) + 1
    key = after[-1][PARTS[part]] if PARTS[part] else str(len(after) - 1)
    seen = manager.get(reverse("rules-part-edit", args=["overwatering", part, key])).context["seen"]
    manager.post(reverse("rules-part-remove", args=["overwatering", part, key]), {"seen": seen})
    assert drafted("causes", "overwatering")[part] == before


def test_a_context_asks_for_something(manager, draft):
    page = manager.post(
        reverse("rules-part-new", args=["overwatering", "prior_factors"]),
        {"factor": "2", "source": NO_SOURCE},
    )
    assert "Tick at least one" in page.content.decode()


@pytest.mark.parametrize("factor", ["0", "0.1", "9", "nan", "inf", "-1", "four"])
def test_a_factor_lies_from_an_eighth_to_eight(manager, draft, factor):
    page = send(manager, "rules-part-edit", "overwatering", "practices", "waters-daily", if_true=factor)
    assert page.status_code == 422
    assert page.context["form"].errors["if_true"]


@pytest.mark.parametrize("code", ["overwatering", "Over Watering", "-x", "iron-deficiency"])
def test_a_code_is_new_and_well_formed(manager, draft, code):
    page = add(manager, code=code)
    assert page.status_code == 422
    assert page.context["form"].errors["code"]


# --- removing -------------------------------------------------------------------------------------
def remove(client, table, code, **values):
    return send(client, "rules-entry-remove", table, code, **values)


def test_a_removed_cause_goes_on_as_a_second_name_of_the_one_that_takes_its_place(manager, draft):
    remove(manager, "causes", "overwatering", successor="pythium-root-rot")
    assert drafted("causes", "overwatering") is None
    assert "overwatering" in drafted("causes", "pythium-root-rot")["aliases"]


def test_a_code_of_a_published_cause_is_never_given_to_another_and_can_be_brought_back(manager, draft):
    remove(manager, "causes", "overwatering", successor="")
    page = add(manager, code="overwatering")
    assert "old cases still use it" in str(page.context["form"].errors["code"])
    manager.post(reverse("rules-entry-restore", args=["causes", "overwatering"]))
    assert drafted("causes", "overwatering") == load_bundled().causes["overwatering"].model_dump(mode="json")


def test_bringing_a_cause_back_takes_its_code_from_the_one_that_stood_for_it(manager, draft):
    remove(manager, "causes", "overwatering", successor="pythium-root-rot")
    manager.post(reverse("rules-entry-restore", args=["causes", "overwatering"]))
    assert drafted("causes", "pythium-root-rot")["aliases"] == ["root-rot"]


def test_a_removed_finding_takes_its_links_along(manager, draft):
    page = manager.get(reverse("rules-entry-remove", args=["findings", "salt-crust"]))
    assert "lose their link" in page.content.decode()
    remove(manager, "findings", "salt-crust")
    assert "salt-crust" not in RulesDraft.objects.get().content


def test_a_source_that_is_cited_stays(manager, draft):
    page = manager.get(reverse("rules-entry-remove", args=["sources", "huang-high-ph"]))
    assert "It cannot go yet" in page.content.decode()
    manager.post(reverse("rules-entry-remove", args=["sources", "huang-high-ph"]), {"seen": "x"})
    assert drafted("sources", "huang-high-ph")


# --- two at once ----------------------------------------------------------------------------------
def test_the_second_of_two_who_change_the_same_is_told_and_shown_both(manager, draft):
    mine = form_of(manager, "rules-entry-edit", "causes", "overwatering")
    other = client_of("manager", first_name="Bo", last_name="Reed")
    send(other, "rules-entry-edit", "causes", "overwatering", definition="Bo's words.")
    page = manager.post(
        reverse("rules-entry-edit", args=["causes", "overwatering"]), {**mine, "definition": "My words."}
    )
    text = page.content.decode()
    assert page.status_code == 422
    assert "Bo Reed changed this while you were writing" in text
    assert "Bo&#x27;s words." in text
    assert "My words." in text
    assert drafted("causes", "overwatering")["definition"]["en"] == "Bo's words."
    again = {**mine, "definition": "My words.", "seen": page.context["form"]["seen"].value()}
    assert (
        manager.post(reverse("rules-entry-edit", args=["causes", "overwatering"]), again).status_code == 302
    )
    assert drafted("causes", "overwatering")["definition"]["en"] == "My words."


def test_the_second_of_two_who_change_a_link_is_told(manager, draft):
    args = ["overwatering", "findings", "fungus-gnats"]
    mine = form_of(manager, "rules-part-edit", *args)
    send(client_of("manager"), "rules-part-edit", *args, strength="often")
    page = manager.post(reverse("rules-part-edit", args=args), {**mine, "strength": "sometimes"})
    assert page.status_code == 422
    assert {("often", "sometimes")} == {
        (line.before.split(";")[0], line.after.split(";")[0]) for line in page.context["both"]
    }


def test_two_who_change_different_things_both_keep_their_work(manager, draft):
    mine = form_of(manager, "rules-entry-edit", "causes", "overwatering")
    send(client_of("manager"), "rules-entry-edit", "causes", "iron-deficiency", prior="rare")
    send(
        client_of("manager"), "rules-part-edit", "overwatering", "findings", "fungus-gnats", strength="often"
    )
    page = manager.post(
        reverse("rules-entry-edit", args=["causes", "overwatering"]), {**mine, "prior": "rare"}
    )
    assert page.status_code == 302
    assert (
        drafted("causes", "iron-deficiency")["prior"] == drafted("causes", "overwatering")["prior"] == "rare"
    )
    assert {"finding": "fungus-gnats", "strength": "often", "source": "ontario-fungus-gnats"} in drafted(
        "causes", "overwatering"
    )["findings"]


@pytest.mark.django_db(transaction=True)
def test_saves_at_the_same_moment_lose_nothing(together):
    make_draft()
    codes = [code for code, cause in load_bundled().causes.items() if cause.prior == "common"][:4]

    def saving(code):
        person = make_staff("manager")
        return lambda: draft_change(by=person, change=raise_prior(code, "rare"))

    results = together(*(saving(code) for code in codes))
    assert [type(result) for result in results] == [RulesDraft] * 4, results
    assert [drafted("causes", code)["prior"] for code in codes] == ["rare"] * 4
    assert RulesDraft.objects.get().revision == 5


# --- problems -------------------------------------------------------------------------------------
def test_what_the_loader_refuses_is_listed_with_entry_field_and_a_link(manager):
    make_draft(change=break_link)
    text = manager.get(reverse("rules-draft")).content.decode()
    assert "1 thing to mend" in text
    assert reverse("rules-entry", args=["causes", "overwatering"]) + "#findings" in text
    assert "no-such-sign" in text
    assert "Publish these rules" not in text
    page = manager.get(reverse("rules-entry", args=["causes", "overwatering"]))
    assert "To be mended" in page.content.decode()
    assert manager.get(reverse("rules-list", args=["causes"])).content.decode().count("to be mended") == 1


# --- who may, and how often the database is asked -------------------------------------------------
READ = {
    "rules-draft": [],
    "rules-differences": [],
    "rules-draft-export": [],
    "rules-list": ["causes"],
    "rules-entry": ["causes", "overwatering"],
    "rules-entry-new": ["causes"],
    "rules-entry-edit": ["causes", "overwatering"],
    "rules-entry-remove": ["causes", "overwatering"],
    "rules-part-new": ["overwatering", "findings"],
    "rules-part-edit": ["overwatering", "findings", "fungus-gnats"],
}
WRITE = {
    "rules-draft-start": [],
    "rules-draft-note": [],
    "rules-draft-publish": [],
    "rules-draft-discard": [],
    "rules-draft-import": [],
    "rules-back": [],
    "rules-entry-restore": ["causes", "overwatering"],
    "rules-part-remove": ["overwatering", "findings", "fungus-gnats"],
}


@pytest.mark.parametrize("name", [*READ, *WRITE])
def test_only_managers_see_and_change_the_draft(draft, name):
    args = {**READ, **WRITE}[name]
    before = RulesDraft.objects.get().content
    for role in ("counter", "consultant"):
        client = client_of(role)
        assert client.post(reverse(name, args=args)).status_code in (403, 405)
        assert client.get(reverse(name, args=args)).status_code in (403, 405)
    assert RulesDraft.objects.get().content == before


@pytest.mark.parametrize("name", WRITE)
def test_changes_are_only_taken_from_forms(manager, draft, name):
    assert manager.get(reverse(name, args=WRITE[name])).status_code == 405


@pytest.mark.parametrize("name", READ)
def test_the_database_is_asked_as_often_whatever_the_draft_holds(draft, name):
    client = client_of("manager")
    queries_of(client, reverse(name, args=READ[name]))
    few = queries_of(client, reverse(name, args=READ[name]))
    draft_change(
        by=make_staff("manager"), change=lambda tables: raise_prior("iron-deficiency", "rare")(tables)
    )
    assert queries_of(client, reverse(name, args=READ[name])) == few


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("rules-list", ["cautions"]),
        ("rules-list", ["nope"]),
        ("rules-entry", ["causes", "nope"]),
        ("rules-entry-edit", ["nope", "overwatering"]),
        ("rules-part-new", ["overwatering", "nope"]),
        ("rules-part-edit", ["overwatering", "prior_factors", "99"]),
        ("rules-part-edit", ["overwatering", "prior_factors", "x"]),
    ],
)
def test_what_is_not_there_is_a_missing_page(manager, draft, name, args):
    assert manager.get(reverse(name, args=args)).status_code == 404
    assert manager.post(reverse(name, args=args)).status_code in (404, 405)


def test_without_a_draft_there_is_nothing_to_edit():
    client = signed_in(make_staff("manager"))
    assert client.get(reverse("rules-list", args=["causes"])).status_code == 404
    assert client.post(reverse("rules-draft-publish")).status_code == 404


def test_find_is_by_code():
    assert find({"causes": [{"code": "a"}]}, "causes", "b") is None


# --- what a new manager stumbled over ---------------------------------------------------------------
@pytest.mark.parametrize(
    ("table", "fields"),
    [("causes", ("group", "urgency")), ("findings", ("part", "check_kind")), ("sources", ("status",))],
)
def test_nothing_is_chosen_beforehand_in_a_new_entry(manager, draft, table, fields):
    answer = send(manager, "rules-entry-new", table)
    assert answer.status_code == 422
    assert set(fields) <= set(answer.context["form"].errors)


def test_a_new_action_says_itself_when_it_is_due(manager, draft):
    answer = send(manager, "rules-part-new", "overwatering", "actions", code="wait-and-see")
    assert "when" in answer.context["form"].errors


def test_without_a_name_only_the_name_is_asked_for(manager, draft):
    errors = send(manager, "rules-entry-new", "causes").context["form"].errors
    assert "name" in errors
    assert "code" not in errors
    assert "code" in send(manager, "rules-entry-new", "causes", name="…").context["form"].errors


def test_each_label_on_the_page_of_the_draft_finds_its_own_field(manager):
    make_draft(change=raise_prior("thrips", "rare"))
    page = manager.get(reverse("rules-draft")).content.decode()
    ids = re.findall(r'<(?:input|textarea|select)[^>]* id="((?!submit)[^"]+)"', page)
    assert len(ids) == len(set(ids)) >= 5


def test_a_source_without_authors_is_named_by_who_published_it(manager, draft):
    page = manager.get(reverse("rules-list", args=["sources"])).content.decode()
    assert "author not shown" not in page
