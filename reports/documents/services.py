"""Keeps the documents of an issued plan: each made once from the snapshot, the same bytes ever after."""

import hashlib
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.core.files.base import ContentFile
from django.core.files.storage import Storage
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import Plan
from garden.access import Right, check_right
from garden.models import Staff
from reports.documents.kinds import PLAN, document_kind, document_kinds
from reports.messages.nudge import nudge
from reports.models import Document, DocumentState, private_document_path
from reports.pdf import Rendered


def plan_documents_create(sender: object, *, plan: Plan, **kwargs: Any) -> None:
    """Note what is to be made of an issued plan; runs inside the transaction that issues.

    It is made in the background, after the commit, from the snapshot that is fixed now.
    """
    for kind in document_kinds():
        if kind.with_every_plan:
            document_note(plan, kind.code)


def document_note(plan: Plan, kind: str = PLAN) -> Document:
    """The row of this document of an issued plan, written if it is new; workers are told after the commit.

    Raises ValueError for a draft, which is not kept.
    """
    if plan.is_draft or plan.snapshot is None:
        raise ValueError("Only an issued plan has a stored document.")
    document, created = Document.objects.get_or_create(plan=plan, kind=document_kind(kind).code)
    if created:
        transaction.on_commit(nudge, robust=True)
    return document


def document_get_or_render(plan: Plan, kind: str = PLAN) -> Document:
    """The stored document of an issued plan, made now if nobody did yet.

    Rendering takes a moment: not to be called inside a transaction. When two do it at once both render,
    the first one's document stays and both get that one. Raises ValueError for a draft, which is not kept,
    and PdfUnavailable when this machine cannot make PDFs.
    """
    document = Document.objects.filter(plan=plan, kind=kind).first() or document_note(plan, kind)
    if document.state != DocumentState.READY:
        document.plan = plan
        document_keep(document, document_render(document))
        document.refresh_from_db()
    return document


def document_render(document: Document) -> Rendered:
    """The document as its plan's snapshot says, kept nowhere yet."""
    snapshot = document.plan.snapshot
    assert snapshot is not None  # noqa: S101 - a row is written for an issued plan only
    return document_kind(document.kind).render(snapshot)


def document_keep(document: Document, rendered: Rendered) -> bool:
    """Store the bytes, then say so in the row. False when somebody else had done it: theirs stays.

    What cannot be written whole, because the disk is full, leaves no file behind.
    """
    storage = document.file.storage
    name = _write(storage, private_document_path(document, ""), rendered.pdf)
    kept = (
        Document.objects.filter(pk=document.pk)
        .exclude(state=DocumentState.READY)
        .update(
            state=DocumentState.READY,
            file=name,
            sha256=hashlib.sha256(rendered.pdf).hexdigest(),
            pages=rendered.pages,
            undrawn=rendered.undrawn,
            ready_at=timezone.now(),
            claimed_by="",
            claimed_until=None,
            last_error="",
        )
    )
    if not kept:
        storage.delete(name)
    return bool(kept)


def _write(storage: Storage, path: str, content: bytes) -> str:
    try:
        return storage.save(path, ContentFile(content))
    except BaseException:
        storage.delete(path)
        raise


def document_retry(*, document: Document, by: Staff | AnonymousUser) -> None:
    """Make a document that could not be made anew, now."""
    check_right(by, Right.ISSUE_PLANS)
    changed = (
        Document.objects.filter(pk=document.pk)
        .exclude(state=DocumentState.READY)
        .update(
            state=DocumentState.WAITING,
            tries=0,
            due_at=timezone.now(),
            last_error="",
            claimed_by="",
            claimed_until=None,
        )
    )
    if not changed:
        raise DeskError(_("This document is ready already."))
    transaction.on_commit(nudge, robust=True)
