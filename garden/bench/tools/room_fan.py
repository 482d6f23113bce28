"""How big a fan carries off the heat of the lamps."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.climate import (
    DUCT_LOSS_PER_M,
    Fan,
    airflow_for_changes_m3_h,
    airflow_for_heat_m3_h,
    btu_h,
    fan_size,
)
from garden.agronomy.errors import AgronomyError, OutOfRange
from garden.bench.fields import side
from garden.bench.measures import airflow, difference, room_volume
from garden.bench.said import sources
from garden.bench.tool import Answer, Choices, Field, Refused, Tool, Values, amount, maybe, word
from garden.wording import Wording

_CHANGES_PER_H = 20  # a small room without strong lamps; common practice, no source


def _filters() -> Choices:
    return (("no", _("no filter")), ("carbon", _("carbon filter")))


def _heat_line(wording: Wording, watts: float, rise: float, flow: str) -> str:
    """Air that carries heat off: the rule of each unit system, which give the same."""
    if wording.system == "us":
        return _("%(btu)s BTU/h ÷ (1.08 × %(rise)s) = %(flow)s") % {
            "btu": wording.number(btu_h(watts), 0),
            "rise": difference(wording, rise),
            "flow": flow,
        }
    return _("%(watts)s W × 3600 ÷ (1.2 kg/m³ × 1006 J/kg°C × %(rise)s) = %(flow)s") % {
        "watts": wording.number(watts, 0),
        "rise": difference(wording, rise),
        "flow": flow,
    }


def _working(
    wording: Wording, watts: float, rise: float, volume: float, flows: tuple[float, float], fan: Fan
) -> tuple[str, ...]:
    by_heat, by_changes = flows
    us = wording.system == "us"
    duct = wording.number(100 * DUCT_LOSS_PER_M * (0.3048 if us else 1), 1 if us else 0)
    each = _("a foot") if us else _("a metre")
    return (
        _heat_line(wording, watts, rise, airflow(wording, by_heat)),
        (_("%(volume)s × 20 an hour ÷ 60 = %(flow)s") if us else _("%(volume)s × 20 an hour = %(flow)s"))
        % {"volume": room_volume(wording, volume), "flow": airflow(wording, by_changes)},
        _("label: %(needed)s ÷ %(left)s left after filter, duct and bends = %(rated)s")
        % {
            "needed": airflow(wording, fan.needed_m3_h),
            "left": f"{fan.needed_m3_h / fan.rated_m3_h:.2f}",
            "rated": airflow(wording, fan.rated_m3_h, at_least=True),
        },
        _(
            "filter 25 %%, duct %(duct)s %% %(each)s, bend 5 %%; 20 changes an hour: common practice; "
            "the fan's own curve wins"
        )
        % {"duct": duct, "each": each},
    )


def _fan(values: Values, needed_m3_h: float) -> Fan:
    """The fan with its filter and duct; raises Refused beside the duct where too little air is left."""
    carbon, metres = word(values, "filter") == "carbon", maybe(values, "duct_m") or 0.0
    bends = round(maybe(values, "bends") or 0.0)
    try:
        return fan_size(needed_m3_h, carbon_filter=carbon, duct_m=metres, bends=bends)
    except OutOfRange:
        raise
    except AgronomyError as error:
        sentence = _("Filter, duct and bends would take most of the air. Shorten or widen the duct.")
        raise Refused(sentence, "duct_m") from error


def compute(values: Values, wording: Wording) -> Answer:
    watts, rise = amount(values, "watts") + (maybe(values, "other_w") or 0.0), amount(values, "rise_c")
    sides = [amount(values, name) for name in ("length_m", "width_m", "height_m")]
    volume = sides[0] * sides[1] * sides[2]
    by_heat = airflow_for_heat_m3_h(watts, rise)
    by_changes = airflow_for_changes_m3_h(volume, _CHANGES_PER_H)
    needed = max(by_heat, by_changes)
    fan = _fan(values, needed)
    headline = _("A fan of at least %(rated)s on its label, moving %(needed)s") % {
        "rated": airflow(wording, fan.rated_m3_h, at_least=True),
        "needed": airflow(wording, needed),
    }
    names = {"filter": _("Filter takes"), "duct": _("Duct takes"), "bends": _("Bends take")}
    facts = [
        (_("For the heat"), airflow(wording, by_heat)),
        (_("For fresh air, 20 changes an hour"), airflow(wording, by_changes)),
        *((names[code], wording.percent(share)) for code, share in fan.allowances),
        (
            _("Heat carried off"),
            _("%(watts)s W, %(btu)s BTU/h")
            % {"watts": wording.number(watts, 0), "btu": wording.number(btu_h(watts), 0)},
        ),
    ]
    notes = (
        _("It cannot cool below the air that comes in: the room stays %s above it.")
        % difference(wording, rise),
    )
    cautions = (_("Wiring is a licensed electrician's work; keep plugs off the floor and away from water."),)
    return Answer(
        headline,
        tuple(facts),
        _working(wording, watts, rise, volume, (by_heat, by_changes), fan),
        sources(
            _("Heat capacity of air; ASHRAE standard air, 1.08 BTU/h per CFM and °F"),
            "common practice, no source",
        ),
        cautions,
        estimate=True,
        notes=notes,
    )


TOOL = Tool(
    "room-fan",
    gettext_lazy("How big a fan?"),
    gettext_lazy("The air that carries off the lamps' heat, with allowances for filter, duct and bends."),
    "room",
    (
        Field(
            "watts",
            gettext_lazy("Lamps, electricity"),
            "W",
            0,
            5e5,
            above=True,
            example=400,
            prefill="lamps_watts",
        ),
        Field("other_w", gettext_lazy("Pumps and the rest"), "W", 0, 5e5, example=30, optional=True),
        Field(
            "rise_c",
            gettext_lazy("Room may be warmer than the air outside it by"),
            None,
            0.5,
            50,
            example=4,
            metric_unit="°C",
            us_unit="°F",
            us_factor=5 / 9,
        ),
        side("length_m", gettext_lazy("Length"), 1.2, 100, "length_m"),
        side("width_m", gettext_lazy("Width"), 1.2, 100, "width_m"),
        side("height_m", gettext_lazy("Height"), 2, 20, "height_m"),
        Field("filter", gettext_lazy("Filter"), choices=_filters, example="carbon"),
        Field("duct_m", gettext_lazy("Length of duct"), "m", 0, 50, example=2, optional=True, us_unit="ft"),
        Field("bends", gettext_lazy("Bends"), None, 0, 20, example=1, optional=True),
    ),
    compute,
)
