"""Writes growers and gardens. Only what changed is saved, so that the history tells what was done."""

from dataclasses import dataclass, field
from typing import Any

from django.db import models, transaction
from django.utils import timezone

from garden.choices import StoppedHow
from garden.models import Feed, Garden, Grower, Lamp, Planting, Space, Staff, WaterSource

Values = dict[str, Any]


@dataclass(frozen=True)
class GardenData:
    """A garden as one screen describes it: fields of the models by name, empty rows left out."""

    garden: Values = field(default_factory=dict)
    space: Values = field(default_factory=dict)
    lamps: list[Values] = field(default_factory=list)
    water: Values | None = None
    feeds: list[Values] = field(default_factory=list)
    planting: Values | None = None
    new_planting: bool = False


@transaction.atomic
def grower_save(
    *,
    data: Values,
    may_email: bool,
    by: Staff | None,
    grower: Grower | None = None,
    consent_how: str = "",
    no_reminders: bool | None = None,
    reachable_again: bool = False,
) -> Grower:
    """Enter or change a grower. Consent keeps its date, and who noted it, while neither it nor the address
    changes. `no_reminders` None leaves that wish as it is. An address that was changed, or works again, is no
    longer one that mail comes back from.
    """
    grower = grower or Grower()
    same_address = grower.email.casefold() == data.get("email", grower.email).casefold()
    values = {
        **data,
        **_consent(grower, may_email and bool(data.get("email")), same_address, consent_how, by),
    }
    if no_reminders is not None and no_reminders != bool(grower.reminders_stopped_at):
        values["reminders_stopped_at"] = timezone.now() if no_reminders else None
        values["reminders_stopped_how"] = StoppedHow.TOLD_US if no_reminders else ""
    if reachable_again or not same_address:
        values |= {"email_unreachable_at": None, "email_unreachable_why": ""}
    _write(grower, values, by)
    return grower


def _consent(grower: Grower, agrees: bool, same_address: bool, how: str, by: Staff | None) -> Values:
    """When, how and to whom the grower agreed."""
    if not agrees:
        return {"email_consent_at": None, "email_consent_by": None, "email_consent_how": ""}
    if grower.email_consent_at and same_address:
        return {"email_consent_how": how or grower.email_consent_how}
    return {"email_consent_at": timezone.now(), "email_consent_by": by, "email_consent_how": how}


@transaction.atomic
def garden_save(
    *, grower: Grower, data: GardenData, by: Staff | None, garden: Garden | None = None
) -> Garden:
    """Enter a garden, or change the garden's first space, its water, its feed and its newest planting."""
    garden = garden or Garden(grower=grower)
    _write(garden, data.garden, by)
    space = garden.spaces.first() or Space(garden=garden)
    _write(space, data.space, by)
    _write_rows(list(space.lamps.all()), data.lamps, lambda: Lamp(space=space), by)
    waters = list(garden.waters.all())[:1]
    _write_rows(waters, [data.water] if data.water else [], lambda: WaterSource(garden=garden), by)
    _write_rows(list(garden.feeds.all()), data.feeds, lambda: Feed(garden=garden), by)
    if data.planting:
        newest = None if data.new_planting else space.plantings.order_by("-pk").first()
        _write(newest or Planting(space=space), data.planting, by)
    return garden


def _write_rows(rows: list[Any], wanted: list[Values], make: Any, by: Staff | None) -> None:
    """Row for row: change what is there, add what is missing, remove what was cleared."""
    for index, values in enumerate(wanted):
        _write(rows[index] if index < len(rows) else make(), values, by)
    for row in rows[len(wanted) :]:
        _sign(row, by)
        row.delete()


def _write(row: models.Model, values: Values, by: Staff | None) -> None:
    changed = [name for name, value in values.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, values[name])
    if changed or row.pk is None:
        _sign(row, by)
        row.save()


def _sign(row: models.Model, by: Staff | None) -> None:
    if by is not None:
        row._history_user = by  # type: ignore[attr-defined]
