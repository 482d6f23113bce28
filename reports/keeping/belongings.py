"""Which rows, living and in the history, belong to one grower: followed down the table of meanings."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import Q

from reports.keeping.fates import Held
from reports.keeping.meaning import GROWERS


@dataclass(frozen=True)
class Belonging:
    """One model's share: the rows, and the rows of its history (None when it keeps none), with their keys."""

    held: Held
    model: type[models.Model]
    rows: "models.QuerySet[Any]"
    history: "models.QuerySet[Any] | None"
    keys: frozenset[int]
    history_keys: frozenset[int]


def model_of(label: str) -> type[models.Model]:
    return apps.get_model(label)


def history_of(model: type[models.Model]) -> type[models.Model] | None:
    """The model of the history rows, when changes of `model` are kept."""
    manager = getattr(model, "history", None)
    return manager.model if manager is not None else None


def belongings(grower: int) -> Iterator[Belonging]:
    """Every model's share, parents first. Rows deleted long ago count by what their history says.

    What belongs is settled when this is called, not as it is read: erasing does not shift it.
    """
    known: dict[type[models.Model], set[int]] = {}
    found = []
    for held in GROWERS:
        model = model_of(held.model)
        past = history_of(model)
        mine = _mine(held, model, known, grower)
        rows = set(_pks(model._base_manager.filter(mine | held.also(grower) if held.also else mine)))
        gone = _gone(model, past, held, known, grower) if past else set()
        known[model] = rows | gone
        told = _history_keys(past, held, known[model], known, grower) if past else set()
        history = past._base_manager.filter(pk__in=told) if past else None
        living = model._base_manager.filter(pk__in=rows)
        found.append(Belonging(held, model, living, history, frozenset(rows), frozenset(told)))
    return iter(found)


def _pks(rows: "models.QuerySet[Any]") -> "models.QuerySet[Any]":
    return rows.order_by().values_list("pk", flat=True)


def _mine(held: Held, model: type[models.Model], known: dict[type[models.Model], set[int]], grower: int) -> Q:
    """Belonging by the key to what is above."""
    if not held.of:
        return Q(**{_pk_name(model): grower})
    parent: Any = model._meta.get_field(held.of).related_model
    return Q(**{f"{held.of}_id__in": known[parent]})


def _pk_name(model: type[models.Model]) -> str:
    return model._meta.pk.attname


def _gone(
    model: type[models.Model],
    past: type[models.Model],
    held: Held,
    known: dict[type[models.Model], set[int]],
    grower: int,
) -> set[int]:
    """Keys of rows that were the grower's and are deleted."""
    name = _pk_name(model)
    once = set(past._base_manager.filter(_mine(held, model, known, grower)).values_list(name, flat=True))
    return once - set(_pks(model._base_manager.filter(pk__in=once)))


def _history_keys(
    past: type[models.Model],
    held: Held,
    keys: set[int],
    known: dict[type[models.Model], set[int]],
    grower: int,
) -> set[int]:
    """What the history says of these rows, and of rows from the time when they were this grower's."""
    model: Any = past.instance_type  # type: ignore[attr-defined]
    mine = Q(**{f"{_pk_name(model)}__in": keys})
    if held.of:
        mine |= _mine(held, model, known, grower)
    return set(_pks(past._base_manager.filter(mine)))
