"""The plan's pages: built, edited, issued, looked after."""

import datetime
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from consults.models import Plan
from garden.access import Role
from reports.models import Message
from tests.consults.plans.making import CAUSES, make_draft, make_issued, make_wet_case
from tests.factories import client_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    return client_of(Role.CONSULTANT)


def at(name: str, *args: Any) -> str:
    return reverse(name, args=args)


def line(plan: Plan, place: int = 0, **changes: str) -> tuple[str, dict[str, str]]:
    """The address of a line of the plan and what its form sends."""
    action = plan.actions.all()[place]
    sent = {"when": action.when, "text": action.text, "quantity": action.quantity}
    if action.included:
        sent["included"] = "on"
    sent |= changes
    return at("action-edit", plan.pk, action.pk), {
        f"a{action.pk}-{key}": value for key, value in sent.items()
    }


def pages_of(plan: Plan, draft_pk: int) -> list[str]:
    return [
        at("plan-draft", plan.case_id), at("plan-edit", draft_pk), at("plan-words", draft_pk),
        at("action-new", draft_pk), line(Plan.objects.get(pk=draft_pk))[0], at("plan-issue", draft_pk),
        at("plan-revise", plan.pk),
        at("action-keep", draft_pk, Plan.objects.get(pk=draft_pk).actions.all()[0].pk),
    ]  # fmt: skip


def test_the_counter_reads_plans_but_neither_drafts_edits_nor_issues() -> None:
    issued, draft = make_issued(), make_draft(make_wet_case(story="another"))
    counter = client_of(Role.COUNTER)
    assert counter.get(at("plan", issued.pk)).status_code == 200
    for url in pages_of(issued, draft.pk):
        answer = (
            counter.get(url) if url == at("plan-edit", draft.pk) else counter.post(url, {"causes": CAUSES})
        )
        assert (url, answer.status_code) == (url, 403)
        assert "Your role does not let you" in answer.content.decode()
    assert Plan.objects.filter(status="draft").count() == 1


def test_nobody_signed_in_is_sent_to_sign_in() -> None:
    issued, draft = make_issued(), make_draft(make_wet_case(story="another"))
    for url in [*pages_of(issued, draft.pk), at("plan", issued.pk), at("follow-ups"), at("follow-up", 1)]:
        for answer in (Client().get(url), Client().post(url)):
            assert answer.status_code == 302
            assert answer.headers["Location"].startswith(reverse("login"))
    assert Plan.objects.count() == 2


def test_from_ticked_causes_to_an_issued_plan(client: Client) -> None:
    case = make_wet_case(consent=True)
    built = client.post(at("plan-draft", case.pk), {"causes": ["", *CAUSES]})
    plan = Plan.objects.get()
    assert built.headers["Location"] == at("plan-edit", plan.pk)
    page = client.get(at("plan-edit", plan.pk)).content.decode()
    assert "Overwatering" in page
    for action in plan.actions.all():
        assert f'name="a{action.pk}-text"' in page
    done = client.post(at("plan-issue", plan.pk), {"send_email": "on"})
    assert done.headers["Location"] == at("plan", plan.pk)
    plan.refresh_from_db()
    assert not plan.is_draft and Message.objects.get().plan == plan
    shown = client.get(at("plan", plan.pk)).content.decode()
    assert plan.snapshot is not None
    assert all(escape(action["text"]) in shown for action in plan.snapshot["actions"])
    assert client.get(at("plan-edit", plan.pk)).headers["Location"] == at("plan", plan.pk)


@pytest.mark.parametrize(
    ("causes", "says"),
    [([], "Choose at least one cause"), ([""], "Choose at least one cause"), (["gone"], "Reload the page")],
)
def test_without_a_known_cause_no_plan_is_built_and_the_page_says_why(
    causes: list[str], says: str, client: Client
) -> None:
    case = make_wet_case()
    page = client.post(at("plan-draft", case.pk), {"causes": causes}, follow=True)
    assert page.redirect_chain == [(at("case", case.pk), 302)]
    assert says in page.content.decode()
    assert not Plan.objects.exists()


def test_a_line_is_changed_taken_out_and_put_back(client: Client) -> None:
    plan = make_draft()
    url, sent = line(plan, text="Our own words.")
    assert client.post(url, sent).status_code == 200
    assert plan.actions.all()[0].text == "Our own words."
    url, sent = line(plan)
    out = {key: value for key, value in sent.items() if not key.endswith("-included")}
    assert client.post(url, out).status_code == 200
    assert plan.actions.all()[0].included is False
    client.post(url, sent)
    assert plan.actions.all()[0].included is True


@pytest.mark.parametrize(
    "changes", [{"text": ""}, {"when": "never"}, {"text": "x" * 601}, {"quantity": "x" * 201}]
)
def test_a_line_without_sense_is_refused_and_the_old_one_stays(
    changes: dict[str, str], client: Client
) -> None:
    plan = make_draft()
    before = plan.actions.all()[0].text
    url, sent = line(plan, **changes)
    assert client.post(url, sent).status_code == 422
    action = plan.actions.all()[0]
    assert (action.text, action.edited) == (before, False)


def test_lines_that_contradict_each_other_are_shown_and_not_issued(client: Client) -> None:
    plan = make_draft()
    first, second = plan.actions.filter(included=True)[:2]
    second.opposes = [first.code]
    second.save()
    url, sent = line(plan, list(plan.actions.all()).index(first))
    answer = client.post(url, sent).content.decode()
    assert first.text in answer and second.text in answer
    page = client.post(at("plan-issue", plan.pk), {}, follow=True)
    assert page.redirect_chain == [(at("plan-edit", plan.pk), 302)]
    assert "contradict each other, keep one" in page.content.decode()
    assert Plan.objects.get().is_draft


def test_a_contradiction_is_settled_by_keeping_one_of_the_two(client: Client) -> None:
    plan = make_draft()
    first, second = plan.actions.filter(included=True)[:2]
    second.opposes = [first.code]
    second.save()
    page = client.get(at("plan-edit", plan.pk)).content.decode()
    assert "keep one" in page and at("action-keep", plan.pk, second.pk) in page
    assert client.post(at("action-keep", plan.pk, second.pk)).status_code == 302
    first.refresh_from_db(), second.refresh_from_db()
    assert (first.included, second.included) == (False, True)
    page = client.get(at("plan-edit", plan.pk)).content.decode()
    assert "Take the other one instead" in page and "cannot be issued" not in page
    assert client.post(at("plan-issue", plan.pk)).headers["Location"] == at("plan", plan.pk)


def test_a_waiting_line_says_for_what_and_waits_no_longer_once_moved_forward(client: Client) -> None:
    plan = make_draft(causes=["iron-deficiency", "nitrogen-deficiency"])
    waits = plan.actions.exclude(waits_for="").first()
    assert waits is not None and waits.when == "later"
    page = client.get(at("plan-edit", plan.pk)).content.decode()
    assert "nobody could tell which one helped" in page and "waits for the first look" in page
    url, sent = line(plan, list(plan.actions.all()).index(waits), when="today")
    assert "waits for the first look" not in client.post(url, sent).content.decode()
    waits.refresh_from_db()
    assert (waits.waits_for, waits.when) == ("", "today")


def test_the_sign_of_success_and_when_to_stop_are_edited_and_an_older_page_leaves_them(
    client: Client,
) -> None:
    plan = make_draft()
    before = plan.actions.all()[0]
    assert before.worked_when
    url, sent = line(plan)
    client.post(url, sent)
    assert plan.actions.all()[0].worked_when == before.worked_when
    url, sent = line(plan, worked_when="The pot floats.", stop_when="It sinks.")
    client.post(url, sent)
    now = plan.actions.all()[0]
    assert (now.worked_when, now.stop_when, now.edited) == ("The pot floats.", "It sinks.", True)


def test_a_line_of_our_own_is_added(client: Client) -> None:
    plan = make_draft()
    count = plan.actions.count()
    sent = {"when": "today", "text": "Ring us tonight.", "quantity": ""}
    assert client.post(at("action-new", plan.pk), sent).headers["Location"] == at("plan-edit", plan.pk)
    assert plan.actions.get(code="").text == "Ring us tonight."
    assert client.post(at("action-new", plan.pk), {"when": "today", "text": ""}).status_code == 422
    assert plan.actions.count() == count + 1


def test_words_and_the_next_look_are_kept_and_a_day_gone_by_is_refused(client: Client) -> None:
    plan, url = make_draft(), None
    url = at("plan-words", plan.pk)
    day = timezone.localdate() + datetime.timedelta(days=4)
    assert client.post(url, {"greeting": "Chin up.", "look_again_on": f"{day}"}).status_code == 200
    gone = client.post(url, {"greeting": "Changed.", "look_again_on": "2001-01-01"})
    assert gone.status_code == 422
    assert "This day has passed" in gone.content.decode() and "Changed." in gone.content.decode()
    plan.refresh_from_db()
    assert (plan.greeting, plan.look_again_on) == ("Chin up.", day)


def test_without_consent_the_email_cannot_be_ticked_and_a_forged_tick_sends_nothing(client: Client) -> None:
    plan = make_draft()
    page = client.get(at("plan-edit", plan.pk)).content.decode()
    box = re.search(r'<input[^>]*name="send_email"[^>]*>', page)
    assert box and "disabled" in box[0]
    assert "The grower has not agreed to email" in page
    client.post(at("plan-issue", plan.pk), {"send_email": "on"})
    assert not Plan.objects.get().is_draft
    assert not Message.objects.exists()


def test_an_issued_plan_is_not_changed_by_a_page_left_open(client: Client) -> None:
    plan = make_draft()
    url, sent = line(plan, text="Too late.")
    client.post(at("plan-issue", plan.pk), {})
    before = Plan.objects.get().snapshot
    for address, data in (
        (url, sent),
        (at("plan-words", plan.pk), {"greeting": "Too late."}),
    ):
        answer = client.post(address, data)
        assert answer.status_code == 409
        assert "never changes" in answer.content.decode()
    added = client.post(at("action-new", plan.pk), {"when": "today", "text": "Too late."}, follow=True)
    assert "never changes" in added.content.decode()
    again = client.post(at("plan-issue", plan.pk), {}, follow=True)
    assert "never changes" in again.content.decode()
    assert Plan.objects.get().snapshot == before
    assert not Plan.objects.get().actions.filter(text="Too late.").exists()


def test_the_next_version_is_a_draft_of_its_own(client: Client) -> None:
    first = make_issued()
    answer = client.post(at("plan-revise", first.pk))
    second = Plan.objects.get(version=2)
    assert answer.headers["Location"] == at("plan-edit", second.pk)
    client.post(at("plan-issue", second.pk), {})
    assert "2" in client.get(at("plan", first.pk)).content.decode()
    assert client.get(at("plan", first.pk)).context["newest"] == second


def test_a_line_belongs_to_its_plan(client: Client) -> None:
    one, other = make_draft(), make_draft(make_wet_case(story="another"))
    action = other.actions.all()[0]
    assert client.post(at("action-edit", one.pk, action.pk), {}).status_code == 404
