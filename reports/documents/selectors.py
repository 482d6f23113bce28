"""Reads of stored documents."""

import hashlib
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from consults.models import Plan
from garden.models import Photo
from reports.models import Document


class DocumentLostError(Exception):
    """The stored file is gone or is not the one that was stored."""


def document_name(plan: Plan) -> str:
    return f"plan-{plan.case_id}-v{plan.version}.pdf"


def document_of_plan(plan_id: int, kind: str = "plan") -> Document | None:
    """The row of this document, whatever its state; None when nobody asked for it yet."""
    return Document.objects.filter(plan_id=plan_id, kind=kind).first()


def made_in_background() -> bool:
    """Whether workers, or this process's own thread, make documents; else who wants one makes it."""
    return bool(settings.CELERY_BROKER_URL or settings.BACKGROUND_THREAD)


def document_read(document: Document) -> bytes:
    """The stored bytes, checked against what was stored. Raises DocumentLostError when they differ."""
    try:
        with document.file.open("rb") as file:
            content: bytes = file.read()
    except FileNotFoundError as error:
        if (document.plan.snapshot or {}).get("erased"):
            raise DocumentLostError(_("it was erased at the grower's wish, for good.")) from error
        raise DocumentLostError(_("the stored file is missing; restore it from a backup.")) from error
    if hashlib.sha256(content).hexdigest() != document.sha256:
        raise DocumentLostError(_("the stored file was changed; restore it from a backup."))
    return content


def photo_bytes(snapshot: Mapping[str, Any]) -> dict[int, bytes]:
    """The pictures a snapshot names, by id. One that has been taken away since is left out."""
    found: dict[int, bytes] = {}
    for photo in Photo.objects.filter(pk__in=[photo["id"] for photo in snapshot["photos"]]):
        try:
            with photo.image.open("rb") as file:
                found[photo.pk] = file.read()
        except FileNotFoundError:
            continue
    return found
