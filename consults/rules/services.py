"""Stores versions of the rules and puts one in force."""

from django.db import transaction
from django.utils import timezone

from consults.models import RulesetVersion
from consults.ruleset.loader import Ruleset
from garden.models import Staff


def ruleset_row(ruleset: Ruleset) -> RulesetVersion:
    """The stored row of these rules; stored whole the first time they are needed."""
    row, _created = RulesetVersion.objects.get_or_create(
        version=ruleset.version, defaults={"content": ruleset.to_json()}
    )
    return row


@transaction.atomic
def ruleset_publish(*, ruleset: Ruleset, by: Staff, note: str = "") -> RulesetVersion:
    """Put these rules in force from now on. Publishing an older version again brings it back."""
    row = ruleset_row(ruleset)
    row.note = note or row.note
    row.published_at = timezone.now()
    row.published_by = by
    row.save(update_fields=["note", "published_at", "published_by"])
    return row
