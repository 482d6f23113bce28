"""Keeps the document of an issued plan: rendered once, the same bytes ever after."""

import hashlib
from typing import Any

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from consults.models import Plan
from reports.documents.plan import render_plan
from reports.documents.selectors import photo_bytes
from reports.models import Document
from reports.pdf import Rendered


def plan_render(snapshot: dict[str, Any]) -> Rendered:
    """The plan of this snapshot as a PDF, kept nowhere. A photo taken away since is left out."""
    pictures = photo_bytes(snapshot)
    photos = [photo for photo in snapshot["photos"] if photo["id"] in pictures]
    return render_plan({**snapshot, "photos": photos}, pictures.__getitem__)


def document_get_or_render(plan: Plan) -> Document:
    """The stored document of an issued plan, rendered now if nobody did yet.

    Rendering takes a moment: not to be called inside a transaction. When two do it at once both render,
    the first one's document stays and both get that one. Raises ValueError for a draft, which is not kept,
    and PdfUnavailable when this machine cannot make PDFs.
    """
    stored = Document.objects.filter(plan=plan).first()
    if stored is not None:
        return stored
    if plan.is_draft or plan.snapshot is None:
        raise ValueError("Only an issued plan has a stored document.")
    rendered = plan_render(plan.snapshot)
    document = Document(
        plan=plan,
        sha256=hashlib.sha256(rendered.pdf).hexdigest(),
        pages=rendered.pages,
        undrawn=rendered.undrawn,
    )
    document.file.save("plan.pdf", ContentFile(rendered.pdf), save=False)
    try:
        with transaction.atomic():
            document.save()
    except IntegrityError:
        document.file.delete(save=False)
        return Document.objects.get(plan=plan)
    return document
