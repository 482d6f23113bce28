"""Entering a grower."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from garden.choices import ConsentHow
from garden.forms import desk_helper
from garden.models import Grower
from garden.models.growers import phone_digits
from garden.people import selectors
from garden.people.defaults import units_for_new_grower


class GrowerForm(forms.ModelForm):  # type: ignore[type-arg]
    may_email = forms.BooleanField(
        label=_("The grower agrees to get plans and reminders by email"), required=False
    )
    consent_how = forms.ChoiceField(
        label=_("How the grower agreed"),
        choices=[("", _("not noted")), *ConsentHow.choices],
        required=False,
    )
    no_reminders = forms.BooleanField(label=_("Only plans they asked for, no reminders"), required=False)
    reachable_again = forms.BooleanField(label=_("The address works again"), required=False)
    another_person = forms.BooleanField(label=_("Yes, this is another person: save it"), required=False)

    class Meta:
        model = Grower
        fields = ["name", "phone", "email", "units", "notes"]
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"autocomplete": "off", "inputmode": "tel"}),
            "email": forms.EmailInput(attrs={"autocomplete": "off"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }
        error_messages = {
            "name": {"required": _("Write the grower's name, or what everybody calls them.")},
            "email": {"invalid": _("This is not an email address. It looks like name@example.org.")},
        }
        help_texts = {"units": _("How this grower measures: all pages and plans of theirs follow it.")}

    def __init__(self, *args: Any, typed: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.alike: list[Grower] = []
        if self.instance._state.adding:
            self.initial["units"] = units_for_new_grower()
            if typed:
                self.initial[_kind_of(typed)] = typed
        else:
            self.initial["may_email"] = self.instance.agrees_to_email
            self.initial["consent_how"] = self.instance.email_consent_how
            self.initial["no_reminders"] = bool(self.instance.reminders_stopped_at)
        if self.instance.email_unreachable_at:
            self.fields["reachable_again"].help_text = self.instance.email_unreachable_why
        else:
            del self.fields["reachable_again"]

    @property
    def helper(self) -> FormHelper:
        pieces = ["name", Div("phone", "email", css_class="two-columns")]
        if "reachable_again" in self.fields:
            pieces.append("reachable_again")
        pieces += ["may_email", Div("consent_how", css_class="two-columns"), "no_reminders", "units", "notes"]
        if self.alike:
            pieces.append("another_person")
        return desk_helper(Layout(*pieces))

    def clean_phone(self) -> str:
        phone: str = self.cleaned_data["phone"]
        if phone and not 3 <= len(phone_digits(phone)) <= 20:
            raise forms.ValidationError(
                _("This is not a phone number. Write its digits, with the country code if it is abroad.")
            )
        return phone

    def clean(self) -> dict[str, Any] | None:
        super().clean()
        data = self.cleaned_data
        if data.get("may_email") and not data.get("email") and "email" not in self.errors:
            self.add_error("email", _("To agree to email an address is needed. Enter it, or untick the box."))
        self.alike = selectors.growers_alike(
            phone=data.get("phone") or "", email=data.get("email") or "", besides=self.instance.pk
        )
        if self.alike and not data.get("another_person"):
            self.add_error(
                "another_person", _("Tick this when it is another person. Otherwise open the one above.")
            )
        return data

    def values(self) -> dict[str, Any]:
        """The cleaned fields of the grower's row."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}

    def wishes(self) -> dict[str, Any]:
        """Whether and how this grower may be written to, as `grower_save` takes it."""
        names = ("may_email", "consent_how", "no_reminders", "reachable_again")
        return {name: self.cleaned_data[name] for name in names if name in self.cleaned_data}


def _kind_of(typed: str) -> str:
    """Which field a text typed in the search box belongs to."""
    if "@" in typed:
        return "email"
    return "phone" if selectors.looks_like_phone(typed) else "name"
