"""The papers of the desk in the browser: who gets them, what they are, and the links that offer them."""

import re

import pytest
from django.template import Context, Template
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from consults.cases.papers import papers_about, register_paper
from garden.access import Role
from reports.models import Document
from tests.architecture.world import make_world
from tests.factories import client_of
from tests.reports.documents.tagged import text

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    return make_world()


def addresses(world):
    return {
        "mixing-card-pdf": world.issued.pk,
        "recheck-pdf": world.issued.pk,
        "case-summary-pdf": world.case.pk,
        "hand-out-pdf": world.question.pk,
    }


def test_each_paper_is_a_private_pdf_for_whoever_is_signed_in(world):
    client = client_of(Role.COUNTER)
    for name, pk in addresses(world).items():
        answer = client.get(reverse(name, args=[pk]))
        assert answer.status_code == 200, name
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Cache-Control"] == "private, no-store"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer.content.startswith(b"%PDF-")
        assert re.fullmatch(r'inline; filename="[a-z0-9-]+\.pdf"', answer["Content-Disposition"])


def test_nobody_else_gets_one(world):
    for name, pk in {**addresses(world), "plan-letters": world.issued.pk}.items():
        answer = Client().get(reverse(name, args=[pk]))
        assert answer.status_code == 302 and reverse("login") in answer["Location"], name


def test_what_is_not_there_is_not_found():
    client = client_of()
    for name in ("mixing-card-pdf", "recheck-pdf", "case-summary-pdf", "hand-out-pdf", "plan-letters"):
        assert client.get(reverse(name, args=[99999])).status_code == 404


@pytest.mark.parametrize("name", ["mixing-card-pdf", "recheck-pdf"])
def test_a_paper_of_an_issued_plan_is_made_once_and_kept(world, name):
    client = client_of(Role.COUNTER)
    address = reverse(name, args=[world.issued.pk])
    first = client.get(address).content
    document = Document.objects.get(plan=world.issued, kind=name.removesuffix("-pdf"))
    assert client.get(address).content == first
    with document.file.open("rb") as file:
        assert file.read() == first


@pytest.mark.parametrize("name", ["mixing-card-pdf", "recheck-pdf"])
def test_a_paper_of_a_draft_is_for_who_makes_plans_says_so_and_is_not_kept(world, name):
    address = reverse(name, args=[world.draft.pk])
    assert client_of(Role.COUNTER).get(address).status_code == 403
    answer = client_of(Role.CONSULTANT).get(address)
    assert "DRAFT" in text(answer.content)
    assert not Document.objects.filter(plan=world.draft).exists()


def test_a_photo_whose_file_is_gone_is_left_out_of_the_summary(world):
    world.photo.image.delete(save=False)
    answer = client_of().get(reverse("case-summary-pdf", args=[world.case.pk]))
    assert answer.status_code == 200
    assert "brown tips" not in text(answer.content)


def test_without_a_renderer_the_page_says_what_is_missing(world, monkeypatch):
    from reports import pdf

    def gone():
        raise pdf.PdfUnavailable("Pango is missing.")

    monkeypatch.setattr(pdf, "_weasyprint", gone)
    client = client_of()
    for name, pk in addresses(world).items():
        answer = client.get(reverse(name, args=[pk]))
        assert answer.status_code == 503
        assert b"Pango is missing." in answer.content
    assert client.get(reverse("plan-letters", args=[world.draft.pk])).status_code == 200


# --- letters ------------------------------------------------------------------------------------------
def test_who_makes_plans_is_told_which_characters_cannot_be_printed(world):
    address = reverse("plan-letters", args=[world.draft.pk])
    client = client_of(Role.CONSULTANT)
    assert b"cannot be printed" not in client.get(address).content
    world.case.grower.name = "Ana \U000f1234"
    world.case.grower.save()
    said = client.get(address).content.decode()
    assert "the grower&#x27;s name" in said and "U+F1234" in said
    assert client_of(Role.COUNTER).get(address).status_code == 403


# --- the links ----------------------------------------------------------------------------------------
@pytest.fixture
def as_before():
    from consults.cases import papers

    before = dict(papers._registered)
    yield
    papers._registered.clear()
    papers._registered.update(before)


def shown(about, pk):
    return Template("{% load desk_papers %}{% papers about pk %}").render(Context({"about": about, "pk": pk}))


def test_each_page_offers_the_papers_about_what_it_shows():
    assert reverse("case-summary-pdf", args=[7]) in shown("case", 7)
    assert reverse("mixing-card-pdf", args=[7]) in shown("plan", 7)
    assert reverse("recheck-pdf", args=[7]) in shown("plan", 7)
    assert reverse("hand-out-pdf", args=[7]) in shown("question", 7)
    assert "summary" not in shown("plan", 7)
    assert shown("garden", 7).strip() == ""


def test_registering_an_address_twice_offers_it_once(as_before):
    register_paper("A", "case-summary-pdf")
    register_paper("B", "case-summary-pdf")
    assert [paper.name for paper in papers_about("case") if paper.url_name == "case-summary-pdf"] == ["B"]


def test_the_pages_of_a_plan_and_of_a_question_offer_their_papers(world):
    client = client_of(Role.CONSULTANT)
    issued = client.get(reverse("plan", args=[world.issued.pk])).content.decode()
    draft = client.get(reverse("plan-edit", args=[world.draft.pk])).content.decode()
    for page, plan in ((issued, world.issued), (draft, world.draft)):
        assert reverse("mixing-card-pdf", args=[plan.pk]) in page
        assert reverse("recheck-pdf", args=[plan.pk]) in page
    assert f'hx-get="{reverse("plan-letters", args=[world.draft.pk])}"' in draft


def test_a_question_offers_a_hand_out_once_it_is_answered(world):
    client, address = client_of(Role.COUNTER), reverse("hand-out-pdf", args=[world.question.pk])
    page = reverse("question", args=[world.question.pk])
    assert address not in client.get(page).content.decode()
    world.question.answer, world.question.answered_at = "Let it dry.", timezone.now()
    world.question.save()
    assert address in client.get(page).content.decode()
