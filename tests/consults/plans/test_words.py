"""The shop's own words over those of the rules."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from consults.errors import DeskError
from consults.models import ShopWording
from consults.plans.services import action_edit, plan_draft, plan_issue
from consults.plans.snapshot import build_snapshot
from consults.plans.words import SENTENCE, passages_of, words_save
from consults.ruleset.loader import load_bundled
from garden.access import Role
from tests.consults.plans.making import CAUSES, make_draft, make_wet_case
from tests.factories import client_of, make_staff

pytestmark = pytest.mark.django_db
RULES = load_bundled()
DRY = next(action for action in RULES.causes["overwatering"].actions if action.code == "let-pot-dry")


def say(
    words: str, action: str = "let-pot-dry", cause: str = "overwatering", role: Role = Role.MANAGER
) -> None:
    words_save(ruleset=RULES, cause=cause, action=action, language="en", words=words, by=make_staff(role))


def test_a_draft_says_it_in_the_shops_words_and_marks_it() -> None:
    say("Let it  dry\nout.")
    line = make_draft().actions.get(code="let-pot-dry")
    assert (line.text, line.shop_words, line.edited) == ("Let it dry out.", True, False)
    page = client_of(Role.CONSULTANT).get(reverse("plan-edit", args=[line.plan_id])).content.decode()
    assert "the shop's words" in page.replace("&#x27;", "'")
    action_edit(action=line, included=True, when=line.when, text="Changed here.", quantity=line.quantity)
    line.refresh_from_db()
    assert line.shop_words is False


def test_words_are_kept_by_cause_and_the_likelier_causes_count() -> None:
    say("As for wet feet.")
    say("As for root rot.", cause="pythium-root-rot")
    case, by = make_wet_case(), make_staff()
    plan = plan_draft(case=case, causes=["pythium-root-rot", "overwatering"], by=by)
    assert plan.actions.get(code="let-pot-dry").text == "As for root rot."
    plan = plan_draft(case=case, causes=["ammonium-toxicity"], by=by)
    assert plan.actions.get(code="let-pot-dry").text == DRY.text["en"]


def test_words_of_another_language_are_not_used() -> None:
    words_save(ruleset=RULES, cause="overwatering", action="let-pot-dry", language="de", words="Warten.",
               by=make_staff(Role.MANAGER))  # fmt: skip
    assert make_draft().actions.get(code="let-pot-dry").text == DRY.text["en"]


def test_the_causes_sentence_is_said_in_the_shops_words_and_an_issued_plan_keeps_them() -> None:
    say("The roots drown.", SENTENCE)
    say("Let it dry out.")
    plan = plan_issue(plan=make_draft(), by=make_staff(), send_email=False)
    say("", SENTENCE)
    say("")
    plan.refresh_from_db()
    cause = next(cause for cause in plan.snapshot["causes"] if cause["code"] == "overwatering")
    assert (cause["definition"], cause["shop_words"]) == ("The roots drown.", True)
    assert "Let it dry out." in [action["text"] for action in plan.snapshot["actions"]]
    fresh = build_snapshot(plan_draft(case=make_wet_case(story="new"), causes=CAUSES, by=make_staff()))
    cause = next(cause for cause in fresh["causes"] if cause["code"] == "overwatering")
    assert (cause["definition"], cause["shop_words"]) == (
        RULES.causes["overwatering"].definition["en"],
        False,
    )


@pytest.mark.parametrize("words", ["", "   ", DRY.text["en"]])
def test_nothing_or_the_rules_own_words_take_them_back_and_the_history_stays(words: str) -> None:
    say("First.")
    say("Second.")
    say(words)
    assert not ShopWording.objects.exists()
    kinds = list(ShopWording.history.order_by("history_id").values_list("history_type", "text"))
    assert kinds == [("+", "First."), ("~", "Second."), ("-", "Second.")]
    assert all(ShopWording.history.values_list("history_user", flat=True))
    assert make_draft().actions.get(code="let-pot-dry").text == DRY.text["en"]


def test_the_rules_themselves_are_not_touched() -> None:
    version = RULES.version
    say("Let it dry out.")
    assert load_bundled().version == version
    passage = next(p for p in passages_of(RULES.causes["overwatering"], "en") if p.action == "let-pot-dry")
    assert (passage.original, passage.now, passage.moved) == (DRY.text["en"], "Let it dry out.", False)


def test_words_written_over_an_older_text_say_that_the_rules_have_changed_since() -> None:
    say("Let it dry out.")
    ShopWording.objects.update(instead_of="What the rules once said.")
    page = client_of(Role.MANAGER).get(reverse("shop-words-cause", args=["overwatering"])).content.decode()
    assert "The rules have changed since" in page and "What the rules once said." in page


@pytest.mark.parametrize("role", [Role.COUNTER, Role.CONSULTANT])
def test_only_the_manager_changes_words(role: Role) -> None:
    with pytest.raises(PermissionDenied):
        say("Ours.", role=role)
    client, page = client_of(role), reverse("shop-words-cause", args=["overwatering"])
    for answer in (client.get(page), client.post(page, {"text": "Ours."}), client.get(reverse("shop-words"))):
        assert answer.status_code == 403
    assert Client().get(page).status_code == 302
    assert not ShopWording.objects.exists()


def test_what_the_rules_do_not_say_has_no_words() -> None:
    for cause, action in (("overwatering", "gone"), ("gone", SENTENCE)):
        with pytest.raises(DeskError, match="Reload"):
            say("Ours.", action, cause)
    assert client_of(Role.MANAGER).get(reverse("shop-words-cause", args=["gone"])).status_code == 404


def test_the_page_saves_resets_and_refuses_what_is_too_long() -> None:
    client, page = client_of(Role.MANAGER), reverse("shop-words-cause", args=["overwatering"])
    sent = {"action": "let-pot-dry", "text": "Let it dry out."}
    assert client.post(page, sent).headers["Location"] == page
    shown = client.get(page).content.decode()
    assert "Let it dry out." in shown and "The rules say:" in shown and "Lately changed" in shown
    assert "1 in our words" in client.get(reverse("shop-words")).content.decode()
    assert client.post(page, {**sent, "text": "x" * 601}).status_code == 422
    assert ShopWording.objects.get().text == "Let it dry out."
    client.post(page, {"action": "let-pot-dry", "reset": "1"})
    assert not ShopWording.objects.exists()
