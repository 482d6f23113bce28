"""The shop's own words over those of the rules: reading, writing, and going back."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Count, Q
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import ShopWording
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Cause
from garden.access import Right, check_right
from garden.models import Staff
from garden.reference.schema import text

SENTENCE = ""  # the place of a cause's own sentence, beside the codes of its actions
HISTORY_SHOWN = 12


@dataclass(frozen=True)
class Passage:
    """A text that can be said in the shop's words. `moved`: the rules say it otherwise since."""

    action: str
    original: str
    own: ShopWording | None

    @property
    def now(self) -> str:
        return self.own.text if self.own else self.original

    @property
    def moved(self) -> bool:
        return self.own is not None and self.own.instead_of != self.original


def own_words(causes: Iterable[str], language: str) -> dict[tuple[str, str], str]:
    """The shop's words by cause and action; the cause's own sentence under `SENTENCE`."""
    rows = ShopWording.objects.filter(cause__in=list(causes), language=language)
    return {(row.cause, row.action): row.text for row in rows}


def changed_causes(language: str) -> dict[str, int]:
    """How many passages of each cause are in the shop's words."""
    rows = ShopWording.objects.filter(language=language).values("cause").annotate(n=Count("pk")).order_by()
    return {row["cause"]: row["n"] for row in rows}


def passages_of(cause: Cause, language: str) -> list[Passage]:
    """The sentence of a cause and the texts of its actions, with what the shop says instead."""
    own = {row.action: row for row in ShopWording.objects.filter(cause=cause.code, language=language)}
    return [Passage(code, original, own.get(code)) for code, original in _originals(cause, language).items()]


def history_of(cause: str, language: str) -> list[Any]:
    """The latest changes of the shop's words for a cause, newest first."""
    rows = ShopWording.history.filter(Q(cause=cause), language=language).select_related("history_user")
    return list(rows.order_by("-history_date", "-history_id")[:HISTORY_SHOWN])


@transaction.atomic
def words_save(
    *, ruleset: Ruleset, cause: str, action: str, language: str, words: str, by: Staff
) -> ShopWording | None:
    """Say a passage in the shop's words; the rules' own words, or none, take them back (None then).

    Drafts worked out from now on use them; plans issued before keep theirs. Raises PermissionDenied without
    the right, DeskError when the rules have no such passage.
    """
    check_right(by, Right.EDIT_WORDING)
    known = ruleset.causes.get(cause)
    original = _originals(known, language).get(action) if known else None
    if original is None:
        raise DeskError(_("The rules do not say this any more. Reload the page."))
    row = ShopWording.objects.select_for_update().filter(cause=cause, action=action, language=language)
    found = row.first() or ShopWording(cause=cause, action=action, language=language)
    found._history_user = by  # type: ignore[attr-defined]
    words = " ".join(words.split())
    if words in ("", original):
        if found.pk:
            found.delete()
        return None
    found.text, found.instead_of = words, original
    found.save()
    return found


def _originals(cause: Cause, language: str) -> dict[str, str]:
    texts = {action.code: text(action.text, language) for action in cause.actions}
    return {SENTENCE: text(cause.definition, language), **texts}
