"""The rows of a form for bands: four numbers for each reading, greyed what holds where nothing is written."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from garden.agronomy.units import System
from garden.profiles.fields import EdgeField
from garden.profiles.limits import EDGES, OFFERED, Bands, Standing, spans, stages_apart
from garden.reference.loader import load_reference, text
from garden.reference.schema import Crop
from garden.wording import Wording

_LABELS = {
    "wide_low": gettext_lazy("Tolerated from"),
    "low": gettext_lazy("Comfortable from"),
    "high": gettext_lazy("Comfortable to"),
    "wide_high": gettext_lazy("Tolerated to"),
}


@dataclass(frozen=True)
class Row:
    """One reading as the page draws it: what holds now, what would hold, and its fields."""

    code: str
    name: str
    unit: str
    holds: str
    own: bool
    greyed: tuple[str, str] | None
    whose: str
    stages_apart: str
    fields: list[BoundField]
    drop: BoundField | None
    open: bool


class BandsForm(forms.Form):
    """Bands of a profile. `own` are those it has, `greyed` what holds for a reading that is left empty.

    `base` is given where the rows are for all stages: then a row says in which stages that crop wants others.
    """

    def __init__(
        self,
        *args: Any,
        own: Bands,
        greyed: dict[str, Standing],
        base: Crop | None,
        system: System,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.own, self.greyed, self.base, self.system = own, greyed, base, system
        self._kept: Bands = {}
        readings = load_reference().readings
        for code in OFFERED:
            stored = own.get(code, {})
            beside = greyed[code].edges if code in greyed else {}
            for edge in EDGES:
                self.fields[_field(code, edge)] = EdgeField(
                    reading=readings[code],
                    system=system,
                    label=_LABELS[edge],
                    stored=stored.get(edge),
                    greyed=beside.get(edge),
                )
            if code in own:
                words = _("Remove these numbers, so that the greyed ones hold")
                self.fields[_field(code, "drop")] = forms.BooleanField(required=False, label=words)

    def clean(self) -> dict[str, Any]:
        for code in OFFERED:
            names = [_field(code, edge) for edge in EDGES]
            if self.cleaned_data.get(_field(code, "drop")):
                for name in names:
                    self.errors.pop(name, None)
            elif not any(name in self.errors for name in names):
                self._read_row(code, {edge: self.cleaned_data.get(_field(code, edge)) for edge in EDGES})
        return self.cleaned_data

    def _read_row(self, code: str, typed: dict[str, float | None]) -> None:
        """Keep a row of which something is written; what is left empty beside it is the greyed number."""
        if all(value is None for value in typed.values()):
            return
        beside = self.greyed[code].edges if code in self.greyed else {}
        row = {edge: beside.get(edge) if value is None else value for edge, value in typed.items()}
        complete = {edge: value for edge, value in row.items() if value is not None}
        for edge in EDGES:
            if edge not in complete:
                self.add_error(_field(code, edge), _("Write this number too, or empty the whole row."))
        if len(complete) == len(EDGES):
            self._check_order(code, complete, typed)
            self._kept[code] = complete

    def _check_order(self, code: str, row: dict[str, float], typed: dict[str, float | None]) -> None:
        """Tell a number on the wrong side of its neighbour, beside one that was written."""
        for lower, upper in pairwise(EDGES):
            if row[lower] <= row[upper]:
                continue
            at, other = (lower, upper) if typed[upper] is None else (upper, lower)
            message = (
                _(
                    "This does not fit with the greyed “%(other)s”, %(found)s. Write that number too, "
                    "or mend this one."
                )
                if typed[other] is None
                else _("“%(this)s” must not be below “%(other)s”, which is %(found)s. Mend one of the two.")
            )
            words = {"this": _LABELS[at], "other": _LABELS[other], "found": self._said(code, other)}
            self.add_error(_field(code, at), message % words)

    def _said(self, code: str, edge: str) -> str:
        """A number as it stands in its field: as typed, or else in grey."""
        name = _field(code, edge)
        typed: str = self.data.get(self.add_prefix(name), "").strip()
        return typed or str(self.fields[name].widget.attrs["placeholder"])

    def own_bands(self) -> Bands:
        """The bands of the valid form. An empty row is none: what is greyed holds."""
        return self._kept

    def rows(self) -> Iterator[Row]:
        """The readings as the page draws them, one closed line each; open where somebody has been writing."""
        reference, lang = load_reference(), get_language() or "en"
        wording = Wording(self.system)
        for code in OFFERED:
            reading, beside, own = reference.readings[code], self.greyed.get(code), self.own.get(code)
            fields = [self[_field(code, edge)] for edge in EDGES]
            holds = own or (beside.edges if beside else None)
            unit = self.fields[_field(code, EDGES[0])].unit  # type: ignore[attr-defined]
            written = self.is_bound and any((field.value() or "") != field.initial for field in fields)
            yield Row(
                code=code,
                name=text(reading.name, lang),
                unit="" if unit == "pH" else unit,
                holds=spans(holds, reading, wording)[0] if holds else "",
                own=own is not None,
                greyed=spans(beside.edges, reading, wording) if beside else None,
                whose=beside.whose if beside else "",
                stages_apart=", ".join(stages_apart(self.base, code)) if self.base else "",
                fields=fields,
                drop=self[_field(code, "drop")] if own is not None else None,
                open=written or any(field.errors for field in fields),
            )


def _field(code: str, part: str) -> str:
    return f"{code}__{part}"
