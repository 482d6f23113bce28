"""Looks through every text of every table, for a grower's name, addresses and numbers that stand where they
are not expected: in another grower's notes, in a question nobody was named for, in a notice not yet read.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import IntegrityError, models, transaction

from garden.models import Grower, Staff
from reports.keeping.fates import stays
from reports.keeping.identity import Identity, changed_text, gathered, texts_in
from reports.keeping.meaning import GROWERS

_CHUNK = 500
# Tables of the program itself, and names of the staff, who may well be somebody's namesake.
NOT_SWEPT = {
    "auth.Group",
    "auth.Permission",
    "contenttypes.ContentType",
    "garden.Staff",
    "garden.HistoricalStaff",
    "sessions.Session",  # its texts are packed: see `clean_sessions`
    "axes.AccessAttempt",
    "axes.AccessFailureLog",
    "axes.AccessLog",
}
_WORDS = (models.CharField, models.TextField, models.JSONField)


def word_columns(model: type[models.Model]) -> list[str]:
    """Columns of a model that can hold words: texts and JSON, not choices of a fixed list, not file names."""
    return [
        field.attname
        for field in model._meta.concrete_fields
        if isinstance(field, _WORDS) and not field.choices and not isinstance(field, models.FileField)
    ]


def _swept_columns(model: type[models.Model]) -> list[str]:
    """Columns where somebody may have typed something: not codes, hashes and what the program reckoned."""
    label = getattr(model, "instance_type", model)._meta.label
    codes = {
        column
        for held in GROWERS
        if held.model == label
        for column, fate in held.columns.items()
        if fate is stays
    }
    return [column for column in word_columns(model) if column not in codes]


def swept_models() -> list[type[models.Model]]:
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.label not in NOT_SWEPT and _swept_columns(model)
    ]


def particular(grower: int, who: Identity) -> Identity:
    """What says who this grower is among other people's words too: not shared with anybody else."""
    others = Grower.objects.exclude(pk=grower).values_list("name", "email", "phone")
    staff = [(person.get_full_name(), person.email, "") for person in Staff.objects.all()]
    wanted = who.names | who.emails | who.phones
    return who.without(gathered([*(row for row in others.iterator() if wanted & set(row)), *staff]))


def mentions(who: Identity) -> Iterator[tuple[type[models.Model], Any, dict[str, Any]]]:
    """(model, key, changed columns) of every row that mentions somebody."""
    if not who:
        return
    for model in swept_models():
        columns = _swept_columns(model)
        rows = model._base_manager.order_by("pk").values_list("pk", *columns)
        for pk, *values in rows.iterator(chunk_size=_CHUNK):
            changed = {
                column: _fitted(model, column, changed_text(value, who.taken_from))
                for column, value in zip(columns, values, strict=True)
                if value and any(who.found_in(words) for words in texts_in(value))
            }
            if changed:
                yield model, pk, changed


def _fitted(model: type[models.Model], column: str, value: Any) -> Any:
    """Cut to what the column holds: the sign of what was taken out may be longer than that was."""
    longest = getattr(model._meta.get_field(column), "max_length", None)
    return value[:longest] if isinstance(value, str) else value


def sweep(who: Identity) -> tuple[Counter[str], Counter[str]]:
    """Take somebody out of everybody's words. Counts what was changed and, apart, what may not be changed
    (issued plans of others), each by the label of its model.
    """
    done: Counter[str] = Counter()
    left: Counter[str] = Counter()
    for model, pk, changed in list(mentions(who)):
        try:
            with transaction.atomic():
                model._base_manager.filter(pk=pk).update(**changed)
        except IntegrityError:
            left[model._meta.label] += 1
        else:
            done[model._meta.label] += 1
    return done, left


def clean_sessions(who: Identity) -> int:
    """Drop what sessions hold beside the sign-in when it names somebody, such as a notice nobody has read."""
    cleaned = 0
    for session in Session.objects.iterator(chunk_size=_CHUNK):
        content = session.get_decoded()
        if any(who.found_in(words) for words in texts_in(content)):
            kept = {key: value for key, value in content.items() if key.startswith("_auth_")}
            session.session_data = SessionStore().encode(kept)
            session.save(update_fields=["session_data"])
            cleaned += 1
    return cleaned
