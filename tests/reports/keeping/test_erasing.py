"""After an erasure nothing says who it was, and what happened to the plants is still known."""

from pathlib import Path

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, models, transaction
from django.test import Client
from django.utils import timezone

from consults.models import Case, Erasure, Plan, PlanAction, Question, Ranking
from garden.models import Grower, Photo
from reports.documents.selectors import DocumentLostError, document_read
from reports.keeping.erasing import ErasureRefusedError, forecast, grower_erase
from reports.keeping.meaning import GROWERS, SHOPS
from reports.keeping.sweep import word_columns
from reports.models import Document, Message
from tests.factories import make_grower, make_question, make_staff, signed_in
from tests.reports.keeping.making import (
    EMAIL,
    NAME,
    PHONE,
    Life,
    found_in_files,
    found_in_tables,
    make_life,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def life(tmp_path, settings):
    """In stores of this test's own: what other tests left behind is not looked through."""
    settings.MEDIA_ROOT, settings.OUTGOING_MAIL_DIR = tmp_path / "private", tmp_path / "outgoing"
    return make_life()


def erase(life: Life, callbacks) -> Erasure:
    with callbacks(execute=True):
        return grower_erase(grower=life.grower, by=life.manager)


# --- every table has a meaning --------------------------------------------------------------------
def undecided() -> list[str]:
    """Models, and columns of growers' models that can hold words or files, that nobody decided about."""
    table = {held.model: held for held in GROWERS}
    found = []
    for model in apps.get_models():
        label = model._meta.label
        if label in SHOPS or hasattr(model, "instance_type"):
            continue  # a row of history shares the fate of the row it tells of
        if label not in table:
            found.append(label)
        elif not table[label].rows_go:
            files = [f.name for f in model._meta.concrete_fields if isinstance(f, models.FileField)]
            decided = set(table[label].columns) & ({*word_columns(model)} | {*files})
            found += [f"{label}.{column}" for column in {*word_columns(model), *files} - decided]
    return found


def test_every_model_and_every_column_with_words_has_a_decided_fate():
    assert undecided() == [], "decide in reports/keeping/meaning.py what erasing a grower means for these"


def test_the_tables_of_meanings_name_only_what_there_is():
    assert {held.model for held in GROWERS} | set(SHOPS) <= {m._meta.label for m in apps.get_models()}
    for held in GROWERS:
        fields = {field.name for field in apps.get_model(held.model)._meta.concrete_fields}
        assert {*held.columns, *held.files} <= fields, held.model


def test_no_table_between_two_others_holds_words():
    between = [m for m in apps.get_models(include_auto_created=True) if m._meta.auto_created]
    assert [m._meta.label for m in between if word_columns(m)] == []


# --- what goes ------------------------------------------------------------------------------------
def test_afterwards_no_table_and_no_file_says_who_it_was(life, tmp_path, django_capture_on_commit_callbacks):
    assert len(found_in_tables()) > 30
    assert found_in_files(tmp_path)
    erase(life, django_capture_on_commit_callbacks)
    assert found_in_tables() == []
    assert found_in_files(tmp_path) == []


def test_photos_documents_and_kept_mails_are_deleted_from_the_disk(life, django_capture_on_commit_callbacks):
    erase(life, django_capture_on_commit_callbacks)
    assert [path for path in life.files if path.exists()] == []
    assert not Photo.objects.filter(planting__space__garden__grower=life.grower).exists()


def test_who_opens_an_erased_document_is_told_so_and_not_sent_to_a_backup(
    life, django_capture_on_commit_callbacks
):
    erase(life, django_capture_on_commit_callbacks)
    document = Document.objects.filter(plan=life.issued).first()
    assert document is not None
    with pytest.raises(DocumentLostError, match="erased"):
        document_read(document)


def test_files_of_others_stay(life, django_capture_on_commit_callbacks):
    others = [
        Path(photo.image.path) for photo in Photo.objects.exclude(planting__space__garden__grower=life.grower)
    ]
    erase(life, django_capture_on_commit_callbacks)
    assert all(path.is_file() for path in others)


def test_what_waits_in_the_outbox_is_withheld(life, django_capture_on_commit_callbacks):
    assert Message.objects.filter(plan=life.issued, state="waiting").exists()
    erase(life, django_capture_on_commit_callbacks)
    of_zoe = Message.objects.filter(plan__case__grower=life.grower)
    assert set(of_zoe.values_list("state", flat=True)) <= {"withheld", "sent", "replaced"}
    assert set(of_zoe.values_list("to", "body")) == {("", "")}


def test_a_name_among_the_words_of_others_is_taken_out(life, django_capture_on_commit_callbacks):
    asked = make_question(words=f"My neighbour {NAME} ({PHONE.replace(' ', '')}) said so. {EMAIL}")
    expected = forecast(life.grower).elsewhere
    erase(life, django_capture_on_commit_callbacks)
    asked.refresh_from_db()
    assert asked.words == "My neighbour (erased) ((erased)) said so. (erased)"
    assert expected == 2, "the question and its history"


def test_somebody_of_the_same_name_keeps_it(life, django_capture_on_commit_callbacks):
    namesake = make_grower(name=NAME, notes=f"Not the other {NAME}.")
    erase(life, django_capture_on_commit_callbacks)
    namesake.refresh_from_db()
    assert (namesake.name, namesake.notes) == (NAME, f"Not the other {NAME}.")


def test_an_issued_plan_of_somebody_else_is_not_changed(life, django_capture_on_commit_callbacks):
    plan = Plan.objects.filter(status="issued").exclude(case__grower=life.grower).first()
    before = Plan.objects.filter(pk=plan.pk).values().get()
    erase(life, django_capture_on_commit_callbacks)
    assert Plan.objects.filter(pk=plan.pk).values().get() == before


def test_a_notice_not_yet_read_goes_and_nobody_is_signed_out(life, django_capture_on_commit_callbacks):
    client = signed_in(life.manager)
    session = client.session
    session["_messages"] = f'[["__json_message", 0, 25, "{NAME} is saved."]]'
    session.save()
    erase(life, django_capture_on_commit_callbacks)
    assert "_messages" not in client.session
    assert client.get("/").status_code == 200
    assert Client().get("/").status_code == 302


# --- what stays -----------------------------------------------------------------------------------
def outcomes(case: Case) -> dict[str, object]:
    return {
        "findings": list(case.findings.values_list("code", "state")),
        "practices": list(case.practices.values_list("code", flat=True)),
        "readings": list(case.readings.values_list("quantity", "value", "taken_at")),
        "results": list(case.rankings.values_list("result", "ruleset__version")),
        "confirmed": (case.confirmed_cause, case.confirmed_how),
        "plans": list(case.plans.values_list("version", "status", "causes", "issued_at", "snapshot_sha256")),
        "looks": list(case.plans.values_list("follow_up__progress", "follow_up__due_on")),
        "crop": case.planting.crop,
    }


def test_what_happened_to_the_plants_stays(life, django_capture_on_commit_callbacks):
    life.case.confirmed_cause, life.case.confirmed_how = "overwatering", "seen"
    life.case.save()
    before = outcomes(life.case)
    erase(life, django_capture_on_commit_callbacks)
    assert outcomes(Case.objects.get(pk=life.case.pk)) == before


def test_an_erased_plan_still_says_what_was_seen_judged_and_advised(life, django_capture_on_commit_callbacks):
    before = life.issued.snapshot
    by_the_rules = set(life.issued.actions.filter(edited=False).values_list("text", flat=True))
    erase(life, django_capture_on_commit_callbacks)
    after = Plan.objects.get(pk=life.issued.pk).snapshot
    for key in ("seen", "not_seen", "readings", "causes", "ruleset", "practices"):
        assert after[key] == before[key]
    assert after["erased"] is True
    assert [line["text"] for line in after["actions"]] == [
        line["text"] if line["text"] in by_the_rules else "(erased)" for line in before["actions"]
    ]


def test_a_document_keeps_its_hash_date_and_pages(life, django_capture_on_commit_callbacks):
    erase(life, django_capture_on_commit_callbacks)
    kept = Document.objects.get(pk=life.document.pk)
    assert (kept.sha256, kept.pages, kept.ready_at) == (
        life.document.sha256, life.document.pages, life.document.ready_at,
    )  # fmt: skip


def test_every_page_still_opens(life, django_capture_on_commit_callbacks):
    erase(life, django_capture_on_commit_callbacks)
    client = signed_in(life.manager)
    for address in (
        f"/growers/{life.grower.pk}/",
        f"/cases/{life.case.pk}/",
        f"/plans/{life.issued.pk}/",
        "/growers/",
        "/messages/",
        "/questions/",
    ):
        assert client.get(address).status_code == 200, address


# --- how ------------------------------------------------------------------------------------------
def test_the_record_says_when_by_whom_and_how_much_but_not_who(life, django_capture_on_commit_callbacks):
    foreseen = {line.label: line for line in forecast(life.grower).lines}
    record = erase(life, django_capture_on_commit_callbacks)
    record.refresh_from_db()
    assert (record.erased_by, record.is_open, record.files) == (life.manager, False, [])
    assert record.counts["garden.Photo rows removed"] == foreseen["garden.Photo"].rows
    assert record.counts["garden.Grower history rows emptied"] == foreseen["garden.Grower"].history


def test_erasing_again_changes_nothing(life, django_capture_on_commit_callbacks):
    first = erase(life, django_capture_on_commit_callbacks)
    tables = {m: list(m._base_manager.order_by("pk").values()) for m in apps.get_models() if m is not Erasure}
    again = erase(life, django_capture_on_commit_callbacks)
    assert {m: list(m._base_manager.order_by("pk").values()) for m in tables} == tables
    assert (again.pk, again.erased_at, again.counts) == (first.pk, first.erased_at, first.counts)


def test_what_came_since_is_erased_by_erasing_again(life, django_capture_on_commit_callbacks):
    erase(life, django_capture_on_commit_callbacks)
    Grower.objects.filter(pk=life.grower.pk).update(name=NAME, email=EMAIL)
    Question.objects.create(grower=life.grower, words=f"{NAME} again")
    erase(life, django_capture_on_commit_callbacks)
    assert found_in_tables() == []


def test_it_waits_while_a_mail_is_being_sent_or_a_plan_made(life):
    held = {"claimed_by": "w", "claimed_until": timezone.now() + timezone.timedelta(minutes=1)}
    for model in (Message, Document):
        model.objects.filter(plan=life.issued).update(**held)
        with pytest.raises(ErasureRefusedError, match="right now"):
            grower_erase(grower=life.grower, by=life.manager)
        model.objects.filter(plan=life.issued).update(claimed_until=None)
    life.grower.refresh_from_db()
    assert life.grower.name == NAME
    assert not Erasure.objects.exists()


def test_a_file_that_will_not_go_is_remembered_and_removed_the_next_time(
    life, django_capture_on_commit_callbacks, monkeypatch
):
    monkeypatch.setattr("reports.keeping.erasing.remove_files", list)
    assert len(erase(life, django_capture_on_commit_callbacks).files) >= 3
    monkeypatch.undo()
    assert erase(life, django_capture_on_commit_callbacks).files == []
    assert [path for path in life.files if path.exists()] == []


@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_only_a_manager_may(life, role):
    with pytest.raises(PermissionDenied):
        grower_erase(grower=life.grower, by=make_staff(role))


# --- the guards -----------------------------------------------------------------------------------
def opened(life: Life) -> Erasure:
    return Erasure.objects.create(grower=life.grower, is_open=True, erased_at=timezone.now())


def refused(rows: "models.QuerySet[Plan] | models.QuerySet[PlanAction]", **changes: object) -> None:
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        rows.update(**changes)


def test_without_an_open_erasure_an_issued_plan_cannot_be_emptied(life):
    rows = Plan.objects.filter(pk=life.issued.pk)
    erased = {**life.issued.snapshot, "grower": {"name": ""}, "erased": True}
    refused(rows, greeting="", snapshot=erased)
    Erasure.objects.create(grower=life.grower, erased_at=timezone.now())
    refused(rows, greeting="", snapshot=erased)


def test_the_erasure_of_one_grower_opens_no_plan_of_another(life):
    Erasure.objects.create(grower=life.other, is_open=True, erased_at=timezone.now())
    erased = {**life.issued.snapshot, "erased": True}
    refused(Plan.objects.filter(pk=life.issued.pk), greeting="", snapshot=erased)
    refused(life.issued.actions.all(), text="Pour in acid.")


def test_even_an_open_erasure_lets_nothing_else_through(life):
    opened(life)
    rows, snapshot = Plan.objects.filter(pk=life.issued.pk), life.issued.snapshot
    whole = {"greeting": "", "snapshot": {**snapshot, "erased": True}}
    refused(rows, snapshot={**snapshot, "erased": True})  # the greeting must go as well
    refused(rows, greeting="", snapshot=snapshot)  # must be marked
    refused(rows, greeting="", snapshot={**snapshot, "erased": False})
    refused(rows, greeting="", snapshot={**snapshot, "erased": True, "causes": []})
    refused(rows, greeting="", snapshot={**snapshot, "erased": True, "readings": []})
    refused(rows, **whole, snapshot_sha256="0" * 64)
    refused(rows, **whole, version=9)
    refused(rows, **whole, status="draft")
    refused(rows, **whole, issued_by=make_staff().pk)
    refused(life.issued.actions.all(), text="x", code="other")
    refused(life.issued.actions.all(), included=False)
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        PlanAction.objects.create(plan=life.issued, position=1, when="today", text="More.")
    rows.update(**whole)


def test_the_guards_are_put_back_by_every_migrate(life):
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    refused(Plan.objects.filter(pk=life.issued.pk), greeting="x")


def test_rankings_keep_their_result_and_lose_the_grower(life, django_capture_on_commit_callbacks):
    erase(life, django_capture_on_commit_callbacks)
    for ranking in Ranking.objects.filter(case__grower=life.grower):
        assert set(ranking.inputs["grower"]) <= {"units"}
        assert "story" not in ranking.inputs
        assert ranking.inputs["planting"]["crop"] == life.case.planting.crop
