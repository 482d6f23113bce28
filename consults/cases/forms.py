"""The forms of the case page. Each part saves by itself; all are drawn by crispy-forms."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Field, Layout
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.choices import Confirmed, Seen
from consults.diagnosis import NONE_OF_THESE
from consults.models import Case
from consults.rules.selectors import GROUPS
from consults.ruleset.groups import practice_groups
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Finding
from garden.agronomy.errors import AgronomyError
from garden.agronomy.units import parse_value
from garden.forms import desk_helper
from garden.models import Grower, Planting
from garden.models import Reading as ReadingRow
from garden.reference.loader import load_reference
from garden.reference.schema import Reading, Reference, text
from garden.wording import Wording

PARTS = {
    "whole": gettext_lazy("Whole plant"),
    "leaf-old": gettext_lazy("Old and lower leaves"),
    "leaf-young": gettext_lazy("Young and top leaves"),
    "leaf": gettext_lazy("Leaves of any age"),
    "stem": gettext_lazy("Stems"),
    "flower": gettext_lazy("Flowers"),
    "fruit": gettext_lazy("Fruit"),
    "root": gettext_lazy("Roots"),
    "medium": gettext_lazy("Medium and surface"),
    "solution": gettext_lazy("Solution"),
    "seedling": gettext_lazy("Seedlings"),
    "cutting": gettext_lazy("Cuttings"),
    "room": gettext_lazy("Pattern in the room"),
}
OWN_HEADING = ("watering", "nutrition", "climate", "light")  # habits on other things share one heading
PLACES = {
    "root-zone": gettext_lazy("Root zone"),
    "feed": gettext_lazy("Feed"),
    "runoff": gettext_lazy("Run-off"),
    "air": gettext_lazy("Air"),
    "light": gettext_lazy("Light"),
    "water": gettext_lazy("Water"),
}


def _bare_helper(layout: Layout) -> FormHelper:
    helper = desk_helper(layout, button="", tag=False)
    helper.form_show_labels = True
    return helper


class StoryForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Case
        fields = ["story", "onset_days", "notes"]
        widgets = {
            "story": forms.Textarea(attrs={"rows": 4}),
            "notes": forms.Textarea(attrs={"rows": 2}),
            "onset_days": forms.NumberInput(attrs={"min": 0, "inputmode": "numeric"}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["onset_days"].max_value = 3650  # type: ignore[attr-defined]
        self.helper = _bare_helper(Layout("story", Div("onset_days", "notes", css_class="story-row")))

    def clean_onset_days(self) -> int | None:
        days: int | None = self.cleaned_data["onset_days"]
        if days is not None and days > 3650:
            raise forms.ValidationError(_("That is more than ten years. Enter the days since it began."))
        return days


class FindingsForm(forms.Form):
    """One choice of three for each finding: yes, no, not looked at."""

    swapped_in = False  # drawn to take the place of the same finding on a page that is open

    def __init__(
        self,
        *args: Any,
        ruleset: Ruleset,
        codes: list[str],
        states: dict[str, str],
        language: str,
        case: Case,
    ) -> None:
        super().__init__(*args)
        choices = [("", _("not looked")), (Seen.ABSENT.value, _("no")), (Seen.PRESENT.value, _("yes"))]
        for code in codes:
            finding = ruleset.findings[code]
            self.fields[code] = forms.ChoiceField(
                label=text(finding.plain, language),
                help_text=text(finding.definition, language),
                choices=choices,
                required=False,
                initial=states.get(code, ""),
                widget=forms.RadioSelect,
            )
        self.case = case
        self.helper = _bare_helper(Layout(*(Field(code, template="cases/_finding.html") for code in codes)))


def part_of(finding: Finding) -> str:
    """Where on the checklist a finding stands: its part of the plant, leaves by their age."""
    if finding.part == "leaf" and finding.leaf_age in ("old", "young"):
        return f"leaf-{finding.leaf_age}"
    return finding.part


class PracticesForm(forms.Form):
    """What the grower does, to be ticked, by what it bears on."""

    codes = forms.MultipleChoiceField(
        label=gettext_lazy("What is done, what changed"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, ruleset: Ruleset, language: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._group = practice_groups(ruleset)
        field = self.fields["codes"]
        field.choices = [  # type: ignore[attr-defined]
            (code, text(practice.name, language)) for code, practice in ruleset.practices.items()
        ]
        self.helper = _bare_helper(Layout(Field("codes", template="cases/_practices.html")))

    def grouped(self) -> list[dict[str, Any]]:
        """The boxes by what they bear on; `ticked` counts those ticked."""
        boxes: dict[str, list[Any]] = {}
        for box in self["codes"].subwidgets:
            group = self._group.get(box.data["value"], "other")
            boxes.setdefault(group if group in OWN_HEADING else "other", []).append(box)
        return [
            {
                "name": GROUPS[group] if group in OWN_HEADING else _("Plants, hygiene and sprays"),
                "boxes": boxes[group],
                "ticked": sum(bool(box.data["selected"]) for box in boxes[group]),
            }
            for group in (*OWN_HEADING, "other")
            if group in boxes
        ]


class ReadingForm(forms.Form):
    """One reading: a number as people write it, in the grower's unit or with another one beside it."""

    value = forms.CharField(required=False, max_length=40)

    def __init__(
        self,
        data: Any = None,
        *,
        reading: Reading,
        wording: Wording,
        language: str,
        row: dict[str, Any],
        kept: ReadingRow | None,
        case: Case,
    ) -> None:
        self.unit = unit_of(reading, wording)
        self.wording = wording
        # What was typed in another unit is shown in the grower's: an import, or their units changed since.
        typed = (kept.typed if kept.unit == self.unit else row["shown"]) if kept else None
        super().__init__(data, prefix=reading.code, initial={"value": typed} if kept else {})
        self.reading, self.row, self.kept, self.case = reading, row, kept, case
        field = self.fields["value"]
        field.label = text(reading.name, language)
        field.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})
        self.helper = _bare_helper(Layout(Field("value", template="cases/_reading_field.html")))

    def clean_value(self) -> float | None:
        """The value in the stored unit, None when the field was emptied."""
        typed = self.cleaned_data["value"].strip()
        if not typed:
            return None
        try:
            value = parse_value(typed, self.unit)
        except AgronomyError as error:
            raise forms.ValidationError(str(error)) from error
        if not self.reading.min <= value <= self.reading.max:
            raise forms.ValidationError(self._impossible(value))
        return value

    def _impossible(self, value: float) -> str:
        sentence = _(
            "%(value)s is not possible: it must lie from %(low)s to %(high)s %(unit)s. "
            "Check the number and its unit."
        )
        return sentence % {
            "value": self.data.get(self.add_prefix("value")),
            "low": self._shown(self.reading.min),
            "high": self._shown(self.reading.max),
            "unit": self.unit,
        }  # fmt: skip

    def _shown(self, value: float) -> str:
        return f"{self.wording.reading(value, self.reading.unit, self.reading.decimals)[0]:g}"


def unit_of(reading: Reading, wording: Wording) -> str:
    """The unit a grower reads this in."""
    return reading.us_unit if wording.units == "us" and reading.us_unit else reading.unit


class NewCaseForm(forms.Form):
    planting = forms.ModelChoiceField(
        queryset=Planting.objects.none(),
        label=gettext_lazy("Which plants?"),
        empty_label=None,
        widget=forms.RadioSelect,
    )
    story = forms.CharField(
        label=gettext_lazy("What the grower says, in their own words"),
        required=False,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": 5}),
    )

    def __init__(self, *args: Any, grower: Grower, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plantings = Planting.objects.filter(space__garden__grower=grower).select_related("space__garden")
        self.fields["planting"].queryset = plantings  # type: ignore[attr-defined]
        self.fields["planting"].label_from_instance = planting_label  # type: ignore[attr-defined]
        self.helper = desk_helper(button=_("Open the case"))


def planting_label(planting: Planting) -> str:
    """A planting as staff pick it: crop, stage, where it stands."""
    stage = load_reference().stages.get(planting.stage)
    stage_name = text(stage.name) if stage else ""
    parts = [planting.crop_name, stage_name, str(planting.space), planting.space.garden.name]
    return ", ".join(part for part in parts if part)


class PhotoForm(forms.Form):
    photos = forms.FileField(
        label=gettext_lazy("Photos"), widget=forms.FileInput(attrs={"accept": "image/*"}), required=True
    )
    caption = forms.CharField(label=gettext_lazy("What it shows"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = desk_helper(
            Layout(Div("photos", "caption", css_class="story-row")), button=_("Add the photo")
        )


class ConfirmForm(forms.Form):
    cause = forms.ChoiceField(label=gettext_lazy("It was"))
    how = forms.ChoiceField(label=gettext_lazy("How we know"), choices=Confirmed.choices)

    def __init__(self, *args: Any, ruleset: Ruleset, order: list[str], language: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = [code for code in order if code in ruleset.causes]
        rest = [code for code in ruleset.causes if code not in known]
        named = [(code, text(ruleset.causes[code].name, language)) for code in (*known, *rest)]
        self.fields["cause"].choices = [*named, (NONE_OF_THESE, _("None of these"))]  # type: ignore[attr-defined]
        self.helper = desk_helper(
            Layout(Div("cause", "how", css_class="story-row")), button=_("Confirm and close the case")
        )


def reading_rows(reference: Reference) -> dict[str, list[Reading]]:
    """Readings that can be typed, by the place they are taken."""
    places: dict[str, list[Reading]] = {place: [] for place in PLACES}
    for reading in reference.readings.values():
        if not reading.derived:
            places[reading.place].append(reading)
    return places
