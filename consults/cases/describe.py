"""A garden and its readings in words and in the grower's units, for pages and documents."""

import datetime
from typing import Any

from django.utils import formats
from django.utils.translation import gettext as _

from consults.cases.casefile import CaseFile
from consults.cases.facts import Facts
from garden.choices import SpaceKind, WaterKind
from garden.reference.loader import load_reference, name_of_crop
from garden.reference.schema import Band, text
from garden.wording import Wording


def readings_table(
    facts: Facts, wording: Wording, language: str, *, unmeasured: bool = False
) -> list[dict[str, Any]]:
    """Each known reading on its crop's band, in the grower's units, in the order of the readings file.

    With `unmeasured` the readings nobody knows stand there too, without a value.
    """
    return [
        _reading_row(facts, code, wording, language)
        for code in facts.reference.readings
        if unmeasured or code in facts.known
    ]


def _reading_row(facts: Facts, code: str, wording: Wording, language: str) -> dict[str, Any]:
    definition, known, band = facts.reference.readings[code], facts.known.get(code), facts.band(code)

    def said(value: float) -> tuple[float, str, str]:
        return wording.reading(value, definition.unit, definition.decimals)

    limits = {
        edge: said(getattr(band, edge))[0] if band else None
        for edge in ("low", "high", "wide_low", "wide_high")
    }
    value, shown, unit = said(known.value) if known else (None, "", said(definition.min)[2])
    return {
        "code": code,
        "name": text(definition.name, language),
        "shown": shown,
        "unit": unit,
        "value": value,
        **limits,
        "band_shown": _band_text(limits, definition.decimals, wording),
        "verdict": _verdict(known.value if known else None, band),
        "origin": known.origin if known else "",
    }


def _band_text(limits: dict[str, float | None], decimals: int, wording: Wording) -> str:
    low, high = limits["low"], limits["high"]
    if low is None or high is None:
        return ""
    return _("%(low)s to %(high)s") % {
        "low": wording.number(low, decimals),
        "high": wording.number(high, decimals),
    }


def _verdict(value: float | None, band: Band | None) -> str:
    if value is None:
        return ""
    if band is None:
        return "no-band"
    return "below" if value < band.low else "above" if value > band.high else "inside"


def spoken_date(day: datetime.date) -> str:
    """A date as it is said: "12 March 2026"."""
    return formats.date_format(day, "j F Y")


def crop_name(casefile: CaseFile, language: str) -> str:
    """The crop's name; what was typed when it has no profile of its own."""
    return name_of_crop(casefile.planting.crop, language)


def garden_line(casefile: CaseFile, wording: Wording, language: str) -> str:
    """The garden in one line: space, lamps, water, feed."""
    reference = load_reference()
    garden, parts = casefile.garden, []
    if garden.space is not None:
        space = garden.space
        sides = [side for side in (space.length_m, space.width_m, space.height_m) if side]
        kind = str(SpaceKind(space.kind).label)
        parts.append(f"{kind} {wording.size(sides)}" if sides else kind)
    for lamp in garden.lamps:
        lamp_text = f"{lamp.count} × {text(reference.lamps[lamp.type].name, language)}"
        if lamp.hours is not None:
            lamp_text += ", " + wording.hours(lamp.hours)
        parts.append(lamp_text)
    if garden.water is not None:
        parts.append(str(WaterKind(garden.water.source).label))
    parts += [feed.product for feed in garden.feed]
    return "; ".join(parts)
