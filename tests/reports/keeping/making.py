"""A grower with something in every table, called by a name that is awkward to find."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.files.base import ContentFile
from django.db import connection, models
from django.utils import timezone

from consults.cases.services import photo_attach
from consults.models import Case, FollowUp, Plan
from consults.plans.services import action_add, plan_draft, plan_issue, plan_revise, plan_tell
from garden.models import Feed, Grower, Photo, Staff
from reports.models import Document, Message
from tests.architecture.world import make_world
from tests.factories import make_photo, make_question

NAME, EMAIL, PHONE = "Zoë O'Farrow-Lindqvist", "zoe.farrow@home.example", "+1 (555) 010-7788"
EARLIER_EMAIL = "zoe.old@home.example"
MARKS = ("O'Farrow", "Farrow-Lindqvist", EMAIL, EARLIER_EMAIL, "010-7788", "5550107788", "zoe.farrow", "Zoë")


@dataclass
class Life:
    """Zoë's rows, and those of others beside them."""

    grower: Grower
    case: Case
    issued: Plan
    photo: Photo
    document: Document
    manager: Staff
    other: Grower
    files: list[Path] = field(default_factory=list)


def make_life() -> Life:
    """A world, one of whose growers is Zoë: issued plan, draft, document, mail, photos, question, looks."""
    world = make_world()
    grower, case, by = world.grower, world.case, world.manager
    grower.name, grower.email, grower.phone = NAME, EARLIER_EMAIL, PHONE
    grower.notes = f"{NAME} calls after six. {PHONE}"
    grower.save()
    grower.email = EMAIL
    grower.save()
    case.story, case.notes = f"I am Zoë, write to {EMAIL}.", f"Rang {NAME}."
    case.save()
    case.planting.space.garden.name = "Zoë's cellar"
    case.planting.space.garden.save()
    Feed.objects.filter(garden=case.planting.space.garden).first().delete()
    photo = make_photo(case.planting, caption="Zoë's basil")
    photo_attach(case=case, photo=photo)
    make_question(
        grower=grower, words=f"{NAME} asks why.", answer="Zoë, let it dry.", answered_at=timezone.now()
    )
    issued = _issue(case, by)
    document = _document(issued)
    look = FollowUp.objects.get(plan=issued)
    look.note = "Zoë says it is better."
    look.save()
    mail = _mail(issued)
    plan_revise(plan=issued, by=by)
    files = [Path(photo.image.path), Path(photo.thumbnail.path), Path(document.file.path), mail]
    assert all(path.is_file() for path in files)
    other = Grower.objects.exclude(pk=grower.pk).first()
    return Life(grower, case, issued, photo, document, by, other, files)


def _issue(case: Case, by: Staff) -> Plan:
    plan = plan_draft(case=case, causes=["overwatering"], by=by)
    plan_tell(plan=plan, greeting="Dear Zoë, thank you.", look_again_on=plan.look_again_on)
    action_add(plan=plan, when="today", text="Zoë, ring us tonight.", quantity="once")
    return plan_issue(plan=plan, by=by, send_email=True)


def _document(plan: Plan) -> Document:
    """A document as it lies in the store; what a PDF looks like inside does not matter here."""
    Document.objects.filter(plan=plan).delete()
    document = Document(plan=plan, sha256="0" * 64, pages=2, state="ready", ready_at=timezone.now())
    document.file.save("plan.pdf", ContentFile(f"%PDF-1.7 for {NAME}".encode()), save=False)
    document.save()
    return document


def _mail(plan: Plan) -> Path:
    """The plan's mail, kept as a file, as a shop without a mail server does."""
    message = Message.objects.get(plan=plan)
    folder = Path(settings.OUTGOING_MAIL_DIR)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "20260101T000000.000000Z-0123456789ab.eml"
    path.write_text(f"Message-ID: {message.message_id}\nTo: {EMAIL}\n\nHello {NAME},\n")
    Message.objects.filter(pk=message.pk).update(sent_as=str(path))
    return path


def stored_texts() -> list[tuple[str, str]]:
    """Every value of every column of every table, as the database holds it and as the program reads it."""
    found: list[tuple[str, str]] = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            found += [(table, str(value)) for row in cursor.fetchall() for value in row if value is not None]
    for model in apps.get_models(include_auto_created=True):
        columns = [f.attname for f in model._meta.concrete_fields if isinstance(f, models.JSONField)]
        for row in model._base_manager.values_list(*columns) if columns else ():
            found += [(model._meta.db_table, str(value)) for value in row]
    return found


def found_in_tables(marks: Any = MARKS) -> list[tuple[str, str]]:
    marks = [mark.casefold() for mark in marks]
    escaped = [
        mark.encode("ascii", "backslashreplace").decode().replace("\\xeb", "\\u00eb") for mark in marks
    ]
    return [
        (table, text[:120])
        for table, text in stored_texts()
        if any(mark in text.casefold() for mark in {*marks, *escaped})
    ]


def found_in_files(folder: Path, marks: Any = MARKS) -> list[str]:
    wanted = [mark.encode() for mark in marks] + [mark.encode("ascii", "backslashreplace") for mark in marks]
    return [
        str(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(mark in path.read_bytes() for mark in wanted)
    ]
