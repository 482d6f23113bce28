"""The check-in as a form: for a grower's phone, and for staff who fill it in with them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from crispy_forms.bootstrap import InlineRadios
from crispy_forms.layout import HTML, Div, Fieldset, Layout
from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.html import escape
from django.utils.translation import gettext as _

from consults.choices import Change, HowFar
from consults.looks.asking import Asked, AskedReading
from garden.agronomy.errors import AgronomyError
from garden.agronomy.units import parse_value
from garden.forms import desk_helper

PHOTOS_AT_ONCE = 6


class ManyFilesInput(forms.FileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Several files at once, as a list; none is an empty list."""

    widget = ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list["UploadedFile[Any]"]:
        files = data if isinstance(data, list | tuple) else [data] if data else []
        if len(files) > PHOTOS_AT_ONCE:
            raise forms.ValidationError(
                _("Send at most %(most)s photos at once, then the others.") % {"most": PHOTOS_AT_ONCE}
            )
        return [super(ManyFilesField, self).clean(file, initial) for file in files]


@dataclass(frozen=True)
class Measured:
    """A reading as sent: the value in the stored unit, what was typed, and the unit it was asked in."""

    code: str
    value: float
    typed: str
    unit: str


def _choice(label: str, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=choices,
        required=False,
        widget=forms.RadioSelect,
    )


class CheckInForm(forms.Form):
    """Nothing is compulsory, but something must be said. An unusual number is asked about once, then kept."""

    words = forms.CharField(required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 4}))
    photos = ManyFilesField(required=False)

    def __init__(self, data: Any = None, files: Any = None, *, asked: Asked, photos: int = 0) -> None:
        # A copy, for the page remembers in it which numbers it has asked about.
        self._data: Any = data.copy() if data is not None else None
        super().__init__(self._data, files, initial=asked.initial)
        self.asked, self.photos_kept = asked, photos
        self.measured: list[Measured] = []
        self.fields["words"].label = _("What changed, in your own words")
        field = self.fields["photos"]
        field.label = _("Photos")
        field.help_text = _("Of the whole plant, and close to what troubles it. Up to %(most)s at once.") % {
            "most": PHOTOS_AT_ONCE
        }
        field.widget.attrs["accept"] = "image/*"
        self.fields["progress"] = _choice(_("All in all, the plants are"), Change.choices)
        for pk, line in asked.actions:
            self.fields[f"done-{pk}"] = _choice(line, HowFar.choices)
        for code, line in asked.complaints:
            self.fields[f"change-{code}"] = _choice(line[:1].upper() + line[1:], Change.choices)
        for reading in asked.readings:
            self._add_reading(reading)
        self.helper = desk_helper(Layout(*self._layout()), button=_("Send"))
        self.helper.form_class = "check-in"

    def _add_reading(self, asked: AskedReading) -> None:
        code = asked.reading.code
        label = f"{asked.name} ({asked.unit})" if asked.unit else asked.name
        self.fields[f"read-{code}"] = forms.CharField(
            label=label,
            required=False,
            max_length=40,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        )
        self.fields[f"sure-{code}"] = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def _layout(self) -> Iterator[Any]:
        if self.asked.actions:
            names = [InlineRadios(f"done-{pk}", wrapper_class="asked") for pk, _line in self.asked.actions]
            yield Fieldset(_("What did you do?"), *names)
        changes = [
            InlineRadios(f"change-{code}", wrapper_class="asked") for code, _line in self.asked.complaints
        ]
        yield Fieldset(_("What changed?"), InlineRadios("progress", wrapper_class="asked"), *changes, "words")
        if self.asked.readings:
            codes = [asked.reading.code for asked in self.asked.readings]
            yield Fieldset(
                _("New readings, if you can take them"),
                Div(*(f"read-{code}" for code in codes), css_class="two-columns"),
                *(f"sure-{code}" for code in codes),
            )
        arrived = (
            [HTML(f'<p class="arrived">{escape(_("Photos that have arrived: %s") % self.photos_kept)}</p>')]
            if self.photos_kept
            else []
        )
        yield Fieldset(_("How does it look?"), *arrived, "photos")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for asked in self.asked.readings:
            self._clean_reading(asked, cleaned.get(f"read-{asked.reading.code}", "").strip())
        said = any(value for name, value in cleaned.items() if not name.startswith("sure-"))
        if not said and not self.errors and not self.photos_kept:
            raise forms.ValidationError(_("Nothing is filled in yet. One answer is enough."))
        return cleaned

    def _clean_reading(self, asked: AskedReading, typed: str) -> None:
        if not typed:
            return
        reading, name = asked.reading, f"read-{asked.reading.code}"
        try:
            value = parse_value(typed, asked.unit)
        except AgronomyError as error:
            self.add_error(name, str(error))
            return
        if not reading.min <= value <= reading.max:
            self.add_error(name, self._impossible(asked, typed))
        elif not reading.usual_min <= value <= reading.usual_max and not self._is_sure(asked, typed):
            self.add_error(name, self._unusual(asked, typed))
        else:
            self.measured.append(Measured(reading.code, value, typed, asked.unit))

    def _is_sure(self, asked: AskedReading, typed: str) -> bool:
        """Whether the same number was asked about before. The page now asks, and knows it has."""
        name = f"sure-{asked.reading.code}"
        sure = str(self.data.get(name, "")).strip() == typed
        self._data[name] = typed
        return sure

    def _impossible(self, asked: AskedReading, typed: str) -> str:
        return _(
            "%(value)s is not possible: it must lie from %(low)s to %(high)s %(unit)s."
            " Check the number and its unit."
        ) % {
            "value": typed,
            "low": self._shown(asked, asked.reading.min),
            "high": self._shown(asked, asked.reading.max),
            "unit": asked.unit,
        }  # fmt: skip

    def _unusual(self, asked: AskedReading, typed: str) -> str:
        return _(
            "%(value)s is unusual: mostly it lies from %(low)s to %(high)s %(unit)s. Look at the meter once"
            " more. If it is right, leave it as it is and send again; it is kept."
        ) % {
            "value": typed,
            "low": self._shown(asked, asked.reading.usual_min),
            "high": self._shown(asked, asked.reading.usual_max),
            "unit": asked.unit,
        }  # fmt: skip

    def _shown(self, asked: AskedReading, value: float) -> str:
        reading = asked.reading
        return f"{self.asked.wording.reading(value, reading.unit, reading.decimals)[0]:g}"

    def answers(self) -> dict[str, Any]:
        """What `services.check_in_send` takes."""
        cleaned = self.cleaned_data
        done = {str(pk): cleaned[f"done-{pk}"] for pk, _line in self.asked.actions}
        changes = {code: cleaned[f"change-{code}"] for code, _line in self.asked.complaints}
        return {
            "actions_done": {key: value for key, value in done.items() if value},
            "changes": {key: value for key, value in changes.items() if value},
            "progress": cleaned["progress"],
            "words": cleaned["words"],
            "readings": self.measured,
        }
