"""Choosing what a profile is based on, and its bands: four numbers for each reading."""

from itertools import pairwise
from typing import Any

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from garden.agronomy.units import System
from garden.forms import desk_helper
from garden.models import CropProfile
from garden.profiles.fields import EdgeField
from garden.profiles.selectors import EDGES, OFFERED
from garden.profiles.services import Bands
from garden.reference.loader import load_reference, text
from garden.reference.schema import Crop

_LABELS = {
    "wide_low": gettext_lazy("Tolerated from"),
    "low": gettext_lazy("Comfortable from"),
    "high": gettext_lazy("Comfortable to"),
    "wide_high": gettext_lazy("Tolerated to"),
}


class BaseForm(forms.Form):
    """The first step of a new profile."""

    based_on = forms.ChoiceField(
        label=gettext_lazy("Based on"),
        help_text=gettext_lazy("The nearest crop we have. You then change only what differs."),
        error_messages={
            "required": gettext_lazy("Choose what the profile is based on."),
            "invalid_choice": gettext_lazy("We have no such crop. Choose one of the list."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lang = get_language() or "en"
        crops = [(code, text(crop.name, lang)) for code, crop in load_reference().crops.items()]
        field = self.fields["based_on"]
        field.choices = [("", _("Choose …")), *sorted(crops, key=lambda pair: pair[1].casefold())]  # type: ignore[attr-defined]
        self.helper = desk_helper(button=_("Go on"))
        self.helper.form_method = "get"
        self.helper.disable_csrf = True


class ProfileForm(forms.Form):
    """A profile with the bands of what it is based on filled in. `own` are those it has itself already."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("Such as the variety. It is offered where a garden is described."),
        error_messages={"required": gettext_lazy("Write the name of the crop or variety.")},
    )
    note = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("Where these limits come from, for those who ask later."),
    )

    def __init__(
        self, *args: Any, base: Crop, system: System, profile: CropProfile | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.base = base
        own: Bands = profile.bands if profile else {}
        if profile:
            self.initial.update(name=profile.name, note=profile.note)
        readings, rows, lang = load_reference().readings, [], get_language() or "en"
        for code in OFFERED:
            band = base.band(code)
            stored = own.get(code) or (band.model_dump(include=set(EDGES)) if band else {})
            names = [f"{code}__{edge}" for edge in EDGES]
            for name, edge in zip(names, EDGES, strict=True):
                self.fields[name] = EdgeField(
                    reading=readings[code], system=system, label=_LABELS[edge], stored=stored.get(edge)
                )
            unit = self.fields[names[0]].unit  # type: ignore[attr-defined]
            legend = text(readings[code].name, lang) + ("" if unit == "pH" else f" ({unit})")
            rows.append(Fieldset(legend, Div(*names, css_class="field-row")))
        self.helper = desk_helper(Layout(Div("name", "note", css_class="two-columns"), *rows))

    def clean(self) -> dict[str, Any]:
        for code in OFFERED:
            row = {edge: self.cleaned_data.get(f"{code}__{edge}") for edge in EDGES}
            typed = [edge for edge in EDGES if row[edge] is not None]
            if typed and not any(f"{code}__{edge}" in self.errors for edge in EDGES):
                self._check_row(code, row)
        return self.cleaned_data

    def _check_row(self, code: str, row: dict[str, float | None]) -> None:
        missing = [edge for edge in EDGES if row[edge] is None]
        for edge in missing:
            message = _("Write this number too, or empty the whole row to take over the limits of %(base)s.")
            self.add_error(f"{code}__{edge}", message % {"base": self._base_name})
        if missing:
            return
        for lower, upper in pairwise(EDGES):
            if row[lower] > row[upper]:  # type: ignore[operator]
                words = {
                    "upper": str(_LABELS[upper]),
                    "lower": str(_LABELS[lower]),
                    "found": self.data.get(self.add_prefix(f"{code}__{lower}"), ""),
                }
                message = _(
                    "“%(upper)s” must not be below “%(lower)s”, which is %(found)s. Mend one of the two."
                )
                self.add_error(f"{code}__{upper}", message % words)

    @property
    def _base_name(self) -> str:
        return text(self.base.name, get_language() or "en")

    def values(self) -> dict[str, Any]:
        """What the valid form says. A row as the base has it, or empty, is taken over and not kept as own."""
        bands: Bands = {}
        for code in OFFERED:
            row = {edge: self.cleaned_data[f"{code}__{edge}"] for edge in EDGES}
            band = self.base.band(code)
            if None not in row.values() and (band is None or row != band.model_dump(include=set(EDGES))):
                bands[code] = row
        return {"name": self.cleaned_data["name"], "note": self.cleaned_data["note"], "bands": bands}
