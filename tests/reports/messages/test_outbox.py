"""A message is written with the plan it brings, or not at all."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from consults.errors import DeskError
from consults.models import Plan
from consults.signals import plan_issued
from reports.messages import services
from reports.messages.services import message_id, message_retry
from reports.models import Message
from tests.reports.messages.making import announce, make_grower, make_message, make_plan, make_staff

pytestmark = pytest.mark.django_db


def test_issuing_with_email_leaves_one_waiting_message_to_the_grower() -> None:
    plan = make_plan()
    announce(plan)
    message = Message.objects.get()
    assert (message.state, message.to, message.plan) == ("waiting", plan.case.grower.email, plan)
    assert message.key == f"plan-issued:{plan.pk}"


def test_the_message_says_who_writes_what_is_attached_when_we_look_again_and_whom_to_call() -> None:
    announce(make_plan())
    message = Message.objects.get()
    assert "The Potting Bench" in message.subject
    for said in ("Hello Ida Moss", "PDF", "17 March 2026", "+1 555 0100", "The Potting Bench"):
        assert said in message.body


def test_a_shop_without_phone_and_a_plan_without_a_date_promise_neither() -> None:
    plan = make_plan(shop={"phone": ""})
    plan.snapshot["plan"]["look_again_on"] = ""
    announce(plan)
    body = Message.objects.get().body
    assert "call us" not in body
    assert "look again" not in body


def test_issuing_without_email_leaves_no_message() -> None:
    announce(make_plan(), send_email=False)
    assert not Message.objects.exists()


def test_the_same_plan_announced_twice_is_one_message() -> None:
    plan = make_plan()
    announce(plan)
    announce(plan)
    assert Message.objects.count() == 1


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"email_consent_at": None}, "has not agreed"),
        ({"email": "", "email_consent_at": None}, "has no email address"),
        ({"email": "ida@home.example\nBcc: all@home.example"}, "not a complete email address"),
    ],
)
def test_email_that_may_not_be_sent_is_refused_with_a_reason_and_undoes_the_issue(
    facts: dict, says: str
) -> None:
    grower = make_grower(**facts)
    with pytest.raises(DeskError, match=says), transaction.atomic():
        plan = make_plan(grower=grower)
        plan_issued.send(sender=Plan, plan=plan, send_email=True, by=plan.issued_by)
    assert not Plan.objects.exists()
    assert not Message.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_an_issue_that_is_undone_leaves_no_message_and_tells_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    told = []
    monkeypatch.setattr(services, "nudge", lambda: told.append(1))
    plan = make_plan()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        plan_issued.send(sender=Plan, plan=plan, send_email=True, by=plan.issued_by)
        assert Message.objects.count() == 1
        _ = 1 / 0
    assert not Message.objects.exists()
    assert not told


@pytest.mark.django_db(transaction=True)
def test_workers_are_told_after_the_commit_and_not_before(monkeypatch: pytest.MonkeyPatch) -> None:
    told = []
    monkeypatch.setattr(services, "nudge", lambda: told.append(1))
    plan = make_plan()
    with transaction.atomic():
        plan_issued.send(sender=Plan, plan=plan, send_email=True, by=plan.issued_by)
        assert not told
    assert told == [1]


@pytest.mark.django_db(transaction=True)
def test_telling_workers_that_fails_does_not_undo_the_issue(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "nudge", lambda: 1 / 0)
    announce(make_plan())
    assert Message.objects.get().state == "waiting"


def test_a_name_with_line_breaks_stays_one_line_in_the_subject() -> None:
    announce(make_plan(shop={"name": "Bench\r\nBcc: all@home.example\u2028x\x07"}))
    subject = Message.objects.get().subject
    assert subject.isprintable()
    assert "Bench Bcc: all@home.example x" in subject


def test_a_very_long_shop_name_still_makes_a_message() -> None:
    announce(make_plan(shop={"name": "n" * 5000}))
    assert len(Message.objects.get().subject) == 200


def test_the_message_id_is_of_the_sending_domain_and_the_same_for_the_same_news(settings) -> None:
    settings.DEFAULT_FROM_EMAIL = "Bench <plans@bücher.example>"
    assert message_id("plan-issued:1") == message_id("plan-issued:1") != message_id("plan-issued:2")
    # The usual example of an internationalised domain name, from memory.
    assert message_id("plan-issued:1").endswith("@xn--bcher-kva.example>")


def test_another_shop_with_the_same_numbers_gets_other_message_ids(settings) -> None:
    ours = message_id("plan-issued:1")
    settings.SECRET_KEY = "of another shop"
    assert message_id("plan-issued:1") != ours


def test_a_message_given_up_is_queued_again_to_the_address_the_grower_has_now() -> None:
    message = make_message(state="dead", tries=10, last_error="550 no such user")
    grower = message.plan.case.grower
    grower.email = "right@home.example"
    grower.save()
    message_retry(message=message, by=make_staff())
    message.refresh_from_db()
    assert (message.state, message.to, message.tries) == ("waiting", "right@home.example", 0)
    assert message.due_at <= timezone.now()


@pytest.mark.parametrize("facts", [{"state": "waiting"}, {"state": "sent", "sent_at": timezone.now()}])
def test_only_a_message_given_up_can_be_tried_again(facts: dict) -> None:
    message = make_message(**facts)
    with pytest.raises(DeskError, match="given up"):
        message_retry(message=message, by=make_staff())
    message.refresh_from_db()
    assert message.state == facts["state"]


def test_trying_again_needs_the_right_to_issue_plans() -> None:
    message = make_message(state="dead")
    with pytest.raises(PermissionDenied):
        message_retry(message=message, by=make_staff("counter"))
    message.refresh_from_db()
    assert message.state == "dead"


def test_trying_again_is_refused_when_the_consent_was_taken_back() -> None:
    message = make_message(state="dead")
    grower = message.plan.case.grower
    grower.email_consent_at = None
    grower.save()
    with pytest.raises(DeskError, match="has not agreed"):
        message_retry(message=message, by=make_staff())


# --- a newer version ------------------------------------------------------------------------------
@pytest.mark.parametrize("state", ["waiting", "dead"])
@pytest.mark.parametrize("send_email", [True, False])
def test_what_has_not_gone_out_of_an_older_version_never_goes_once_a_newer_one_is_issued(
    state: str, send_email: bool
) -> None:
    old = make_message(state=state, tries=2, last_error="451 later")
    announce(make_plan(case=old.plan.case, version=2), send_email=send_email)
    old.refresh_from_db()
    assert (old.state, old.get_state_display()) == ("replaced", "replaced")
    assert Message.objects.filter(plan__version=2, state="waiting").count() == send_email


def test_what_was_sent_of_an_older_version_stays_sent_and_other_cases_are_left_alone() -> None:
    sent, other = make_message(state="sent", sent_at=timezone.now()), make_message()
    announce(make_plan(case=sent.plan.case, version=2))
    for message, state in ((sent, "sent"), (other, "waiting")):
        message.refresh_from_db()
        assert message.state == state


@pytest.mark.django_db(transaction=True)
def test_a_newer_version_whose_issue_is_undone_replaces_nothing() -> None:
    old = make_message()
    newer = make_plan(case=old.plan.case, version=2)
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        plan_issued.send(sender=Plan, plan=newer, send_email=True, by=newer.issued_by)
        old.refresh_from_db()
        assert old.state == "replaced"
        _ = 1 / 0
    old.refresh_from_db()
    assert old.state == "waiting"


@pytest.mark.parametrize("state", ["replaced", "dead"])
def test_the_mail_of_a_replaced_plan_cannot_be_tried_again(state: str) -> None:
    old = make_message()
    make_plan(case=old.plan.case, version=2)
    Message.objects.filter(pk=old.pk).update(state=state)  # as rows written by earlier programs may stand
    old.refresh_from_db()
    with pytest.raises(DeskError, match="newer version"):
        message_retry(message=old, by=make_staff())
    old.refresh_from_db()
    assert old.state == state


def test_a_newer_draft_replaces_nothing_yet() -> None:
    old = make_message(state="dead")
    facts = {"status": "draft", "issued_at": None, "issued_by": None, "snapshot": None, "snapshot_sha256": ""}
    make_plan(case=old.plan.case, version=2, **facts)
    message_retry(message=old, by=make_staff())
    old.refresh_from_db()
    assert old.state == "waiting"
