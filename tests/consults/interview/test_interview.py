"""The interview in the browser: one question at a time, every answer in the case, the last one taken back."""

import html

import pytest
from django.test import Client
from django.urls import reverse

from consults.choices import Seen
from consults.models import Case
from garden.access import Role
from tests.factories import make_case, make_staff, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def case() -> Case:
    return make_case(story="It hangs.")


@pytest.fixture
def client() -> Client:
    return signed_in(make_staff(Role.CONSULTANT))


def page(client: Client, case: Case):
    return client.get(reverse("interview", args=[case.pk])).context["asking"]


def reply(client: Client, case: Case, answer: str, **more: str):
    step = page(client, case).question.step
    posted = {"kind": step.kind, "code": step.code, "answer": answer, **more}
    return step, client.post(reverse("interview", args=[case.pk]), posted)


def ask_until(client: Client, case: Case, kind: str, most: int = 40):
    """Say "cannot tell" until a question of this kind comes; None when there is none."""
    for _ in range(most):
        asking = page(client, case)
        if asking.question is None:
            return None
        if asking.kind == kind:
            return asking
        reply(client, case, "")
    return None


def test_an_answer_about_a_finding_goes_into_the_case_and_the_next_question_is_another(client, case):
    case.findings.create(code="wilting-medium-moist", state=Seen.PRESENT)
    asking = ask_until(client, case, "finding")
    code = asking.question.step.code
    reply(client, case, "seen")
    assert case.findings.get(code=code).state == Seen.PRESENT
    following = page(client, case)
    assert following.question is None or following.question.step.code != code


def test_what_nobody_can_answer_is_not_recorded_and_not_asked_again(client, case):
    case.findings.create(code="wilting-medium-moist", state=Seen.PRESENT)
    first, _answer = reply(client, case, "")
    assert case.findings.count() == 1
    seen = set()
    for _ in range(5):
        asking = page(client, case)
        if asking.question is None:
            break
        seen.add(asking.question.step.code)
        reply(client, case, "")
    assert first.code not in seen


def test_a_number_that_is_none_is_refused_beside_the_field_and_kept(client, case):
    case.findings.create(code="interveinal-chlorosis-young", state=Seen.PRESENT)
    asking = ask_until(client, case, "reading")
    assert asking is not None
    step, answer = reply(client, case, "number", **{f"{asking.question.step.code}-value": "bright"})
    assert answer.status_code == 422
    assert 'value="bright"' in answer.content.decode()
    assert not case.readings.exists()
    reply(client, case, "number", **{f"{step.code}-value": "6,9"})
    assert case.readings.get().quantity == step.code


def test_the_last_answer_is_taken_back_and_asked_again(client, case):
    case.findings.create(code="wilting-medium-moist", state=Seen.PRESENT)
    asking = ask_until(client, case, "finding")
    code = asking.question.step.code
    reply(client, case, "not-seen")
    client.post(reverse("interview-back", args=[case.pk]))
    assert not case.findings.filter(code=code).exists()
    assert page(client, case).question.step.code == code


def test_the_interview_ends_and_says_so(client, case):
    case.findings.create(code="white-powder-on-leaves", state=Seen.PRESENT)
    for _ in range(60):
        if page(client, case).question is None:
            break
        reply(client, case, "not-seen" if page(client, case).kind == "finding" else "")
    done = page(client, case).done
    assert done.reason in ("settled", "nothing-left")
    content = client.get(reverse("interview", args=[case.pk])).content.decode()
    assert "To the case and its plan" in content


def test_counter_staff_who_may_not_edit_cases_are_kept_out():
    assert Client().get("/cases/1/interview/").status_code == 302


def test_the_title_is_the_question_and_one_may_stop_before_the_end(client, case):
    case.findings.create(code="wilting-medium-moist", state=Seen.PRESENT)
    asking = page(client, case)
    said = client.get(reverse("interview", args=[case.pk])).content.decode()
    title = said.split("<title>")[1].split("</title>")[0]
    assert asking.title.lower() in html.unescape(title).lower()
    assert "Stop here, to the case" in said
