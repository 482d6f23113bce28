"""Words for the order of a plan, and for the places where a remedy shows."""

from typing import Any

from django.utils.translation import gettext_lazy as _

from consults.models import PlanAction
from consults.plans.order import Rung, rung_of
from consults.plans.ways import Place, way_of

RUNGS: dict[Rung, Any] = {
    Rung.PEOPLE: _("protects people"),
    Rung.SPREAD: _("stops spread"),
    Rung.FREE: _("free and can be undone"),
    Rung.COSTS: _("costs money"),
    Rung.FINAL: _("cannot be undone"),
}
PLACES: dict[Place, Any] = {
    "new-leaves": _("in the new leaves"),
    "old-leaves": _("in the old leaves"),
    "edges": _("at the edges of new leaves"),
    "stance": _("in how the plants stand"),
    "growth": _("in how they grow"),
    "fruit": _("in the next fruits"),
    "spots": _("in fresh spots and mould"),
    "pests": _("in the count of pests"),
}


def rung_of_line(action: PlanAction) -> Rung:
    """The rung of a line of a plan; a line of the shop's own is free and can be undone."""
    return rung_of(action.code, buys=action.buys, reversible=action.reversible)


def place_of(code: str) -> Any:
    """Where the effect of an action shows, in words; empty when it shows nowhere of its own."""
    shows = way_of(code).shows
    return PLACES[shows] if shows else ""
