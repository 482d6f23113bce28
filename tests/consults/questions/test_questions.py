"""The question log at the counter."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from consults.models import Question
from consults.questions.selectors import PAGE, questions_page
from tests.factories import (
    client_of,
    make_case,
    make_grower,
    make_planting,
    make_question,
    make_staff,
    queries_of,
    signed_in,
)

pytestmark = pytest.mark.django_db


def test_the_counter_logs_a_question_in_two_lines():
    person, grower = make_staff("counter"), make_grower(name="Ada")
    client = signed_in(person)
    page = client.get(reverse("question-new"), {"grower": grower.pk})
    assert "Ada" in page.content.decode()
    data = {"grower": grower.pk, "words": "Leaves curl?", "answer": ""}
    client.post(reverse("question-new"), data)
    question = Question.objects.get()
    assert (question.words, question.grower, question.logged_by) == ("Leaves curl?", grower, person)
    assert question.answered_at is None


def test_a_question_without_a_grower_is_fine():
    client_of().post(reverse("question-new"), {"words": "Leaves curl?"})
    assert Question.objects.get().grower is None


@pytest.mark.parametrize("grower", ["", "x", "-1", "9" * 30, "424242"])
def test_an_unknown_grower_in_the_address_breaks_nothing(grower):
    assert client_of().get(reverse("question-new"), {"grower": grower}).status_code == 200


def test_an_empty_question_is_refused_and_the_answer_is_not_lost():
    page = client_of().post(reverse("question-new"), {"words": " ", "answer": "Keep it drier"})
    assert page.status_code == 422
    assert "Write the question down" in page.content.decode()
    assert "Keep it drier" in page.content.decode()
    assert not Question.objects.exists()


def test_a_question_is_answered_when_an_answer_first_stands_there():
    question, client = make_question(), client_of()
    url = reverse("question", args=[question.pk])
    client.post(url, {"words": question.words, "answer": "Keep it drier."})
    question.refresh_from_db()
    first = question.answered_at
    assert first is not None
    client.post(url, {"words": question.words, "answer": "Keep it much drier."})
    question.refresh_from_db()
    assert (question.answer, question.answered_at) == ("Keep it much drier.", first)


def test_taking_the_answer_back_opens_the_question_again():
    question = make_question(answer="No idea", answered_at=timezone.now())
    client_of().post(reverse("question", args=[question.pk]), {"words": question.words, "answer": ""})
    question.refresh_from_db()
    assert question.answered_at is None


def test_a_question_becomes_a_case_and_nothing_is_typed_again():
    grower = make_grower()
    question = make_question(grower=grower)
    page = client_of().post(reverse("question-to-case", args=[question.pk]))
    assert page["Location"] == f"{reverse('case-new')}?question={question.pk}&grower={grower.pk}"


def test_a_question_that_is_a_case_already_leads_to_it():
    question = make_question()
    case = make_case(question=question)
    page = client_of().post(reverse("question-to-case", args=[question.pk]))
    assert page["Location"] == reverse("case", args=[case.pk])


def test_the_log_is_searched_in_question_answer_and_name():
    make_question(words="Brown roots", answer="Cool the water")
    make_question(words="Yellow", grower=make_grower(name="Ödön"))
    assert [q.words for q in questions_page(query="ROOTS cool").questions] == ["Brown roots"]
    assert [q.words for q in questions_page(query="ödön").questions] == ["Yellow"]
    assert questions_page(query="roots yellow").questions == []


def test_open_means_neither_answered_nor_a_case():
    waiting = make_question()
    answered = make_question(answer="Yes", answered_at=timezone.now())
    make_case(make_planting(), question=make_question())
    assert questions_page(state="open").questions == [waiting]
    assert questions_page(state="answered").questions == [answered]
    assert len(questions_page(state="nonsense").questions) == 3


def test_pages_go_on_where_the_last_one_ended_also_within_one_moment():
    moment = timezone.now()
    made = {make_question(asked_at=moment).pk for _ in range(PAGE)}
    made |= {make_question(asked_at=moment - datetime.timedelta(days=1)).pk for _ in range(3)}
    client = client_of()
    first = client.get(reverse("questions"), {"state": "open"})
    after = first.context["page"].after
    rest = client.get(
        reverse("questions"), {"state": "open", "before": after.asked_at.isoformat(), "pk": after.pk}
    )
    seen = [row.pk for page in (first, rest) for row in page.context["page"].questions]
    assert set(seen) == made
    assert len(seen) == len(made)


def test_the_link_to_earlier_questions_works_as_it_is_written(client):
    moment = timezone.now()
    for hours in range(PAGE + 2):
        make_question(asked_at=moment - datetime.timedelta(hours=hours))
    client = client_of()
    text = client.get(reverse("questions")).content.decode()
    link = text.split('<p class="more">')[1].split('href="')[1].split('"')[0].replace("&amp;", "&")
    assert len(client.get(link).context["page"].questions) == 2


@pytest.mark.parametrize("before", ["x", "2026-13-45T00:00:00Z", "2026-01-01", "2026-01-01T00:00:00"])
def test_a_broken_place_to_go_on_from_shows_the_beginning(before):
    make_question()
    page = client_of().get(reverse("questions"), {"before": before, "pk": "1"})
    assert len(page.context["page"].questions) == 1


def test_the_number_of_queries_does_not_grow_with_the_questions():
    client = client_of()
    make_case(question=make_question(grower=make_grower()))
    few = queries_of(client, reverse("questions"))
    for _ in range(10):
        make_case(question=make_question(grower=make_grower()))
    assert queries_of(client, reverse("questions")) == few


def test_while_typing_only_the_rows_come_back():
    make_question(words="Brown roots")
    page = client_of().get(reverse("questions"), {"q": "brown"}, headers={"HX-Request": "true"})
    assert "Brown roots" in page.content.decode()
    assert "<html" not in page.content.decode()


def test_what_a_grower_says_is_shown_as_text():
    question = make_question(words="<script>alert(1)</script>")
    client = client_of()
    for url in (reverse("questions"), reverse("question", args=[question.pk]), reverse("today")):
        assert "<script>alert" not in client.get(url).content.decode()
