"""Describing a garden on one screen: each part is a small form, all are saved together."""

from collections.abc import Mapping
from typing import Any

from crispy_forms.layout import Div
from django import forms
from django.utils.functional import Promise
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from garden.choices import SpaceKind, WaterKind
from garden.people.amounts import AmountField, Scale
from garden.people.layout import Details, part_helper
from garden.people.selectors import crop_code, crop_name
from garden.reference.loader import load_reference, text

_LENGTH = Scale("m", high=1000, above=True, usual=(0.2, 20), us_unit="ft")
_LAMP_HEIGHT = Scale("m", high=100, above=True, usual=(0.05, 3), metric_unit="cm", us_unit="in")
_MG_L = "mg/L"


def _reading(code: str) -> Scale:
    """Limits of a water value, as the reference data has them."""
    reading = load_reference().readings[code]
    return Scale(reading.unit, reading.min, reading.max, usual=(reading.usual_min, reading.usual_max))


def _choices(kinds: Mapping[str, Any], empty: str | Promise, stored: str | None) -> list[tuple[str, Any]]:
    """Codes with their names; a stored code that is no longer known stays choosable, so nothing is lost."""
    lang = get_language() or "en"
    found: list[tuple[str, Any]] = [
        ("", empty),
        *((code, text(kind.name, lang)) for code, kind in kinds.items()),
    ]
    return found if not stored or stored in kinds else [*found, (stored, stored)]


class PartForm(forms.Form):
    """A part of the garden's screen. `stored` is the row it describes, when there is one."""

    def __init__(self, *args: Any, system: str, stored: Any = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_required_attribute = False
        for name, field in self.fields.items():
            value = getattr(stored, name, None)
            if isinstance(field, AmountField):
                value = field.use(system, value)
            if name not in self.initial:
                self.initial[name] = value

    def is_empty(self) -> bool:
        """True when nothing was typed or chosen in this part."""
        return not any(self[name].value() for name in self.fields)

    def questions(self) -> list[str]:
        """Sentences about amounts that are allowed and yet unusual."""
        amounts = (
            (f, self.cleaned_data.get(name)) for name, f in self.fields.items() if isinstance(f, AmountField)
        )
        return [question for field, value in amounts if (question := field.question(value))]

    def need(self, name: str, message: str | Promise) -> None:
        """When anything is filled in, this field has to be."""
        if not self.is_empty() and not self.cleaned_data.get(name) and name not in self.errors:
            self.add_error(name, str(message))


class NameForm(PartForm):
    name = forms.CharField(
        label=_("Name of the garden"),
        max_length=120,
        required=False,
        help_text=_("Such as: tent in the cellar."),
    )
    notes = forms.CharField(
        label=_("Notes"), max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    helper = part_helper(Div("name", "notes", css_class="two-columns"))


class SpaceForm(PartForm):
    kind = forms.ChoiceField(
        label=_("Kind of space"),
        choices=[("", _("Choose …")), *SpaceKind.choices],
        error_messages={"required": _("Choose what kind of space the plants stand in.")},
    )
    length_m = AmountField(scale=_LENGTH, label=_("Length"))
    width_m = AmountField(scale=_LENGTH, label=_("Width"))
    height_m = AmountField(scale=_LENGTH, label=_("Height"))
    helper = part_helper("kind", Div("length_m", "width_m", "height_m", css_class="field-row trio"))


class LampForm(PartForm):
    type = forms.ChoiceField(label=_("Type of lamp"), required=False)
    count = AmountField(scale=Scale(low=1, high=500, usual=(1, 50), whole=True), label=_("How many"))
    photon_flux_umol_s = AmountField(
        scale=Scale("µmol/s", high=20000, usual=(5, 3000)), label=_("Light of one lamp")
    )
    watts = AmountField(scale=Scale("W", high=20000, above=True, usual=(3, 1500)), label=_("or its power"))
    height_m = AmountField(scale=_LAMP_HEIGHT, label=_("Above the leaves"))
    hours = AmountField(scale=Scale("h", high=24, usual=(4, 20)), label=_("Light per day"))
    efficacy_umol_j = AmountField(
        scale=Scale(high=5, above=True, usual=(0.5, 3.8)),
        label=_("Efficacy, µmol per joule"),
        help_text=_("From the maker's test sheet. Left empty, a typical one is used with the power."),
    )
    helper = part_helper(
        Div("type", "count", "photon_flux_umol_s", "watts", "height_m", "hours", css_class="lamp-row"),
        Details(_("Efficacy"), "efficacy_umol_j"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["type"].choices = _choices(  # type: ignore[attr-defined]
            load_reference().lamps, _("No lamp"), self.initial["type"]
        )

    def clean(self) -> dict[str, Any]:
        self.need("type", _("Choose the type of this lamp, or clear its row."))
        self.cleaned_data["count"] = int(self.cleaned_data.get("count") or 1)
        return self.cleaned_data


class WaterForm(PartForm):
    source = forms.ChoiceField(
        label=_("Where the water comes from"),
        choices=[("", _("Not known")), *WaterKind.choices],
        required=False,
    )
    alkalinity_mg_l = AmountField(scale=_reading("water_alkalinity_mg_l"), label=_("Alkalinity"))
    ec_ms_cm = AmountField(scale=_reading("water_ec_ms_cm"), label=_("EC"))
    ph = AmountField(scale=Scale(high=14, usual=(5, 9.5)), label=_("pH"))
    sodium_mg_l = AmountField(scale=_reading("water_sodium_mg_l"), label=_("Sodium"))
    chloride_mg_l = AmountField(scale=_reading("water_chloride_mg_l"), label=_("Chloride"))
    analysed_on = forms.DateField(
        label=_("Date of the analysis"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    helper = part_helper(
        "source",
        Div("alkalinity_mg_l", "ec_ms_cm", "ph", css_class="field-row trio"),
        Details(_("More of the analysis"), "sodium_mg_l", "chloride_mg_l", "analysed_on"),
    )

    def clean(self) -> dict[str, Any]:
        self.need("source", _("Choose where this water comes from, or clear its values."))
        return self.cleaned_data


class FeedForm(PartForm):
    product = forms.CharField(label=_("What is added"), max_length=120, required=False)
    ml_per_l = AmountField(
        scale=Scale("mL/L", high=1000, usual=(0.05, 20), us_unit="mL/US gal", us_per="US gal"),
        label=_("Dose"),
    )
    helper = part_helper(Div("product", "ml_per_l", css_class="feed-row"))

    def clean(self) -> dict[str, Any]:
        self.need("product", _("Name what is added, or clear this row."))
        return self.cleaned_data


class PlantingForm(PartForm):
    crop = forms.CharField(
        label=_("What grows here"),
        max_length=60,
        widget=forms.TextInput(attrs={"list": "crop-names", "autocomplete": "off"}),
        error_messages={"required": _("Write what grows here. Any name will do.")},
    )
    profile = forms.ChoiceField(
        label=_("Most like"),
        required=False,
        help_text=_("Only for a crop we have no limits for: its readings are judged by the nearest ones."),
    )
    stage = forms.ChoiceField(label=_("Stage"), required=False)
    system = forms.ChoiceField(label=_("Growing system"), required=False)
    medium = forms.ChoiceField(label=_("Medium"), required=False)
    container_l = AmountField(
        scale=Scale("L", high=100_000, above=True, usual=(0.03, 100), us_unit="US gal"),
        label=_("One container"),
    )
    reservoir_l = AmountField(
        scale=Scale("L", high=1_000_000, above=True, usual=(1, 5000), us_unit="US gal"), label=_("Reservoir")
    )
    plants = AmountField(
        scale=Scale(low=1, high=100_000, usual=(1, 2000), whole=True), label=_("Number of plants")
    )
    watering_interval_days = AmountField(
        scale=Scale(high=60, above=True, usual=(0.05, 14)), label=_("Days between waterings")
    )
    watering_volume_l = AmountField(
        scale=Scale("L", high=1000, usual=(0.01, 10), us_unit="fl oz"), label=_("Each time, each plant")
    )
    started_on = forms.DateField(
        label=_("Started on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    helper = part_helper(
        Div("crop", "profile", css_class="two-columns"),
        Div("stage", "system", "medium", css_class="field-row wide"),
        Div("plants", "container_l", "reservoir_l", css_class="field-row"),
        Div("watering_interval_days", "watering_volume_l", "started_on", css_class="field-row"),
    )

    def __init__(self, *args: Any, stored: Any = None, **kwargs: Any) -> None:
        self.bbch = getattr(stored, "bbch_principal", None)
        super().__init__(*args, stored=stored, **kwargs)
        reference, unknown = load_reference(), _("Not known")
        self.initial["crop"] = crop_name(self.initial["crop"] or "")
        kinds = (
            ("profile", reference.profiles, _("Our own limits")),
            ("stage", reference.stages, unknown),
            ("system", reference.systems, unknown),
            ("medium", reference.media, unknown),
        )
        for name, known, empty in kinds:
            self.fields[name].choices = _choices(known, empty, self.initial[name])  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data, reference = self.cleaned_data, load_reference()
        data["crop"] = crop_code(data.get("crop") or "")
        if data["crop"] in reference.crops:
            data["profile"] = ""
        elif data["crop"] and not data.get("profile") and "profile" not in self.errors:
            self.add_error(
                "profile",
                _(
                    "We have no limits for “%(crop)s”. Choose what it is most like, "
                    "so that its readings can be judged."
                )
                % {"crop": data["crop"]},
            )
        stage = reference.stages.get(data.get("stage") or "")
        principal = stage.bbch_principal if stage else ()
        data["bbch_principal"] = self.bbch if self.bbch in principal else min(principal, default=None)
        if data.get("plants") is not None:
            data["plants"] = int(data["plants"])
        return data

    def questions(self) -> list[str]:
        found = super().questions()
        volume, container = self.cleaned_data.get("watering_volume_l"), self.cleaned_data.get("container_l")
        if volume and container and volume > container:
            found.append(str(_("Each watering is more than the container holds. We kept both numbers.")))
        return found
