"""From a question at the counter to an open case, as a browser goes."""

import pytest
from django.urls import reverse

from consults.models import Case
from tests.factories import client_of, make_question

pytestmark = pytest.mark.django_db


def test_a_question_of_somebody_new_becomes_a_case_without_typing_it_again():
    question = make_question(words="Why do the leaves curl?")
    client = client_of("counter")
    page = client.post(reverse("question-to-case", args=[question.pk]), follow=True)
    assert "Whose case is it?" in page.content.decode()
    for_case = f"?for_case=1&question={question.pk}"
    page = client.post(reverse("grower-new") + for_case, {"name": "Ada", "units": "metric"}, follow=True)
    onward = page.context["onward"]  # a new grower has no garden: it is described first
    garden = {"space-kind": "tent", "planting-crop": "Basil", "next": onward}
    page = client.post(page.redirect_chain[-1][0], garden, follow=True)
    assert "Why do the leaves curl?" in page.content.decode()
    form = page.context["form"]
    sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    client.post(page.redirect_chain[-1][0], sent)
    case = Case.objects.get()
    assert (case.question, case.story, case.grower.name) == (question, question.words, "Ada")
