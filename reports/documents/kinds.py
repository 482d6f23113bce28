"""The kinds of documents a plan can have: what each is called, and how it is made from the snapshot alone.

A new kind is one entry here; making, keeping, trying again and showing its progress are the same for all.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from reports.documents.card import render_card
from reports.documents.plan import render_plan
from reports.documents.recheck import render_recheck
from reports.documents.selectors import photo_bytes
from reports.pdf import Rendered

PLAN, CARD, RECHECK = "plan", "mixing-card", "recheck"


@dataclass(frozen=True)
class DocumentKind:
    """`render` takes the snapshot fixed at issue, and gives the same bytes whenever it is called."""

    code: str
    title: str | Promise
    render: Callable[[dict[str, Any]], Rendered]
    with_every_plan: bool = False


def plan_render(snapshot: dict[str, Any]) -> Rendered:
    """The plan of this snapshot as a PDF, kept nowhere. A photo taken away since is left out."""
    pictures = photo_bytes(snapshot)
    photos = [photo for photo in snapshot["photos"] if photo["id"] in pictures]
    return render_plan({**snapshot, "photos": photos}, pictures.__getitem__)


_KINDS = {
    kind.code: kind
    for kind in (
        DocumentKind(PLAN, _("The plan"), plan_render, with_every_plan=True),
        DocumentKind(CARD, _("Mixing card"), render_card),
        DocumentKind(RECHECK, _("Sheet for looking again"), render_recheck),
    )
}


def document_kinds() -> tuple[DocumentKind, ...]:
    return tuple(_KINDS.values())


def document_kind(code: str) -> DocumentKind:
    """The kind of this code. Raises KeyError when there is none."""
    return _KINDS[code]
