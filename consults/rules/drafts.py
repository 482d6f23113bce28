"""Writes about the draft of the rules: starting it, changing a piece, publishing or discarding it."""

from collections.abc import Callable

from django.db import transaction
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models.rules import RulesDraft, RulesetVersion
from consults.rules.selectors import ruleset_current
from consults.rules.services import ruleset_publish, ruleset_row
from consults.rules.tables import Tables, check, dump, load
from garden.access import Right, check_right
from garden.models import Staff


class DraftChangedError(DeskError):
    """Somebody saved the draft after this page was opened."""


def draft_start(*, by: Staff) -> RulesDraft:
    """The draft of the shop; begun from the rules in force when there is none."""
    check_right(by, Right.EDIT_RULES)
    ruleset = ruleset_current()
    with transaction.atomic():
        draft, _created = RulesDraft.objects.get_or_create(
            slot=1,
            defaults={
                "content": ruleset.to_json(),
                "based_on": ruleset_row(ruleset),
                "started_by": by,
                "changed_by": by,
            },
        )
    return draft


@transaction.atomic
def draft_change(*, by: Staff, change: Callable[[Tables], None]) -> RulesDraft:
    """Let `change` alter the tables of the draft, and save them. What it raises leaves the draft as it was.

    Savers queue up here, so two who change different pieces both keep their work.
    """
    check_right(by, Right.EDIT_RULES)
    draft = _locked()
    tables = load(draft.content)
    change(tables)
    return _save(draft, by=by, content=dump(tables))


@transaction.atomic
def draft_replace(*, by: Staff, tables: Tables, revision: int) -> RulesDraft:
    """Put a whole other content into the draft. Raises DraftChangedError when it is not as it was seen."""
    check_right(by, Right.EDIT_RULES)
    return _save(_seen(revision), by=by, content=dump(tables))


@transaction.atomic
def draft_note(*, by: Staff, note: str) -> RulesDraft:
    """Keep what the change is about."""
    check_right(by, Right.EDIT_RULES)
    draft = _locked()
    draft.note = note
    draft.save(update_fields=["note"])
    return draft


@transaction.atomic
def draft_discard(*, by: Staff, revision: int) -> None:
    """Throw the draft away. Raises DraftChangedError when it is not as it was seen."""
    check_right(by, Right.EDIT_RULES)
    _seen(revision).delete()


@transaction.atomic
def draft_publish(*, by: Staff, note: str, revision: int, in_force: str) -> RulesetVersion:
    """Put the draft in force as a new version and end it.

    `revision` and `in_force` (a version) are what the person saw; raises DraftChangedError when either is
    another by now, and DeskError while something is to be mended or nothing differs.
    """
    check_right(by, Right.EDIT_RULES)
    draft, current = _seen(revision), ruleset_current()
    if current.version != in_force:
        raise DraftChangedError(
            _("Other rules were put in force meanwhile. Look at the differences again before publishing.")
        )
    checked = check(draft.content)
    if checked.ruleset is None:
        raise DeskError(_("Nothing was published: something is still to be mended in the draft."))
    if checked.ruleset.version == current.version:
        raise DeskError(_("Nothing was published: the draft says the same as the rules in force."))
    row = ruleset_publish(ruleset=checked.ruleset, by=by, note=note)
    draft.delete()
    return row


def _locked() -> RulesDraft:
    draft = RulesDraft.objects.select_for_update().first()
    if draft is None:
        raise DeskError(_("There is no draft any more: it was published or discarded meanwhile."))
    return draft


def _seen(revision: int) -> RulesDraft:
    draft = _locked()
    if draft.revision != revision:
        raise DraftChangedError(
            _("%(who)s changed the draft meanwhile. Look at it again, then decide.")
            % {"who": draft.changed_by or _("Somebody")}
        )
    return draft


def _save(draft: RulesDraft, *, by: Staff, content: str) -> RulesDraft:
    if content != draft.content:
        draft.content, draft.changed_by = content, by
        draft.revision += 1
        draft.save(update_fields=["content", "changed_by", "changed_at", "revision"])
    return draft
