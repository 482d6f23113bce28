"""Readings in a document: which are drawn on their bands, the drawing, and the rows of the table."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from garden.figures import BandLabels, BandRow, band_figure, describe_bands

_FIGURE_FONT = "DejaVu Sans, Noto Sans, sans-serif"
_LIMITS = ("low", "high", "wide_low", "wide_high")
_DRAWN = ("name", "shown", "unit", "value", "band_shown", "verdict", *_LIMITS)
_MOST_DRAWN = 9  # readings in the plot; the table at the end has them all


def readings_that_matter(snapshot: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The readings to draw: those outside their band, then those the reasons speak of; at most nine."""
    reasons = [reason for cause in snapshot["causes"] for reason in (*cause["for"], *cause["against"])]
    banded = [row for row in snapshot["readings"] if has_band(row)]
    outside = [row for row in banded if is_outside(row)]
    spoken_of = [row for row in banded if not is_outside(row) and _is_spoken_of(row, reasons)]
    return [*outside, *spoken_of][:_MOST_DRAWN]


def has_band(reading: Mapping[str, Any]) -> bool:
    return any(reading[edge] is not None for edge in _LIMITS)


def is_outside(reading: Mapping[str, Any]) -> bool:
    return reading["verdict"] in ("below", "above")


def _is_spoken_of(reading: Mapping[str, Any], reasons: Sequence[str]) -> bool:
    """Whether a reason has the reading's name, or its value with a unit that is not that of anything."""
    value = rf"(?<![\d.,]){re.escape(reading['shown'])} {re.escape(reading['unit'])}(?!\w)"
    name = reading["name"].casefold()
    return any(
        bool(name and name in reason.casefold())
        or bool(reading["shown"] and reading["unit"] and re.search(value, reason))
        for reason in reasons
    )


def labels() -> BandLabels:
    return BandLabels(
        inside=_("inside"),
        above=_("above"),
        below=_("below"),
        no_band=_("no band known"),
        comfortable=_("comfortable"),
        tolerated=_("tolerated"),
        last_time=_("last time"),
    )


def bands(readings: Sequence[Mapping[str, Any]], key: str = "readings") -> SafeString | None:
    """The plot of these readings; None when there is none. `key` is unique in the document."""
    rows = [BandRow(**{name: reading[name] for name in _DRAWN}) for reading in readings]
    if not rows:
        return None
    words = labels()
    # The PDF speaks a figure's title only, so it says it all.
    title = " ".join([_("Readings on their bands."), describe_bands(rows, words)])
    return SafeString(band_figure(rows, title=title, labels=words, key=key, font=_FIGURE_FONT))


def reading_row(reading: Mapping[str, Any]) -> dict[str, Any]:
    """A reading with its verdict and where it comes from in words."""
    origins = {
        "measured": _("measured"),
        "garden": _("as described"),
        "computed": _("computed"),
        "estimated": _("estimated"),
    }
    return {
        **reading,
        "word": labels().word(reading["verdict"]),
        "origin": origins.get(reading["origin"], reading["origin"]),
    }
