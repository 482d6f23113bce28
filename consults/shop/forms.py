"""Signing in; the shop's settings; the people of the shop."""

import re
import zoneinfo
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Div, Fieldset, Layout
from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator
from django.utils.translation import gettext_lazy as _

from consults.models import Shop
from consults.shop.money import amount_of, decimals_of, minor_of
from garden.forms import desk_helper
from garden.models import Staff

_HIGHEST_FEE = 2_000_000_000  # in smallest coins: what the column holds on every database


class SignInForm(AuthenticationForm):
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": _(
            "Name and password do not fit together. Check the spelling; capital letters count in both."
        ),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The form only tells the browser how long a name may be; attempts are kept in a column of 255.
        self.fields["username"].validators.append(MaxLengthValidator(150))
        self.helper = desk_helper(button=_("Sign in"))

    def confirm_login_allowed(self, user: Any) -> None:
        """Demo accounts have published passwords: they open nothing where growers are real."""
        super().confirm_login_allowed(user)
        if user.is_demo and not settings.DEMO_ACCOUNTS_ALLOWED:
            raise ValidationError(
                _("Demo accounts are switched off here. Use your own account."), code="demo"
            )


class OwnPasswordForm(PasswordChangeForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = desk_helper(button=_("Change my password"))


class ShopForm(forms.ModelForm):  # type: ignore[type-arg]
    fee = forms.CharField(label=_("Price of a consult"), max_length=20, required=False)

    class Meta:
        model = Shop
        fields = [
            "name",
            "address",
            "phone",
            "email",
            "opening_hours",
            "time_zone",
            "paper",
            "units",
            "currency",
            "remind_day_before",
            "remind_on_the_day",
            "remind_from_hour",
        ]
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "currency": _("Such as EUR, USD or JPY."),
            "opening_hours": _("As it stands on a plan, such as: Tue–Sat 10–18."),
            "paper": _("What plans are printed on."),
            "remind_from_hour": _("An hour of the day, 0 to 23, by the clock of the shop."),
        }
        error_messages = {"name": {"required": _("The shop needs a name: it stands on every plan.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = sorted(zoneinfo.available_timezones())
        self.fields["time_zone"] = forms.ChoiceField(
            label=_("Time zone"), choices=[(zone, zone) for zone in zones]
        )
        self.fields["remind_from_hour"].required = False
        shop = self.instance
        self.initial["fee"] = str(amount_of(shop.consult_fee_minor, shop.currency))
        self.fields["fee"].widget.attrs["inputmode"] = "decimal"
        self.helper = desk_helper(
            Layout(
                Fieldset(
                    _("On every plan"),
                    "name",
                    "address",
                    Div("phone", "email", css_class="two-columns"),
                    "opening_hours",
                ),
                Fieldset(_("How we work"), Div("time_zone", "units", "paper", css_class="two-columns")),
                Fieldset(
                    _("Reminders by email"), "remind_day_before", "remind_on_the_day", "remind_from_hour"
                ),
                Fieldset(_("Prices"), Div("currency", "fee", css_class="two-columns")),
            )
        )

    def clean_remind_from_hour(self) -> int:
        hour: int | None = self.cleaned_data["remind_from_hour"]
        return self.instance.remind_from_hour if hour is None else hour

    def clean_currency(self) -> str:
        currency: str = self.cleaned_data["currency"].strip().upper()
        if not re.fullmatch(r"[A-Z]{3}", currency):
            raise ValidationError(_("A currency has three letters, such as EUR."))
        return currency

    def clean(self) -> dict[str, Any] | None:
        super().clean()
        typed = (self.cleaned_data.get("fee") or "0").strip().replace(" ", "").replace(",", ".")
        currency = self.cleaned_data.get("currency", "EUR")
        try:
            amount = Decimal(typed)
            minor = minor_of(amount, currency)
        except (ArithmeticError, ValueError):
            self.add_error(
                "fee",
                _(
                    "Write an amount with at most %(decimals)s decimals and without thousands separators, "
                    "such as %(example)s."
                )
                % {"decimals": decimals_of(currency), "example": amount_of(4500, currency)},
            )
            return self.cleaned_data
        if not 0 <= minor <= _HIGHEST_FEE:
            self.add_error(
                "fee",
                _("The price must be from 0 to %(high)s.") % {"high": amount_of(_HIGHEST_FEE, currency)},
            )
        self.cleaned_data["consult_fee_minor"] = minor
        return self.cleaned_data

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in (*self.Meta.fields, "consult_fee_minor")}


class StaffForm(forms.ModelForm):  # type: ignore[type-arg]
    temporary_password = forms.CharField(
        label=_("Temporary password"),
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("At least 12 characters. Tell it to the person, who then changes it after signing in."),
    )

    class Meta:
        model = Staff
        fields = ["username", "first_name", "last_name", "email", "role", "is_active"]
        labels = {"username": _("Name for signing in"), "is_active": _("May sign in")}
        help_texts = {"username": "", "is_active": _("Untick when somebody leaves; what they wrote stays.")}
        widgets = {"username": forms.TextInput(attrs={"autocomplete": "off"})}
        error_messages = {
            "username": {
                "required": _("Choose a name for signing in."),
                "unique": _(
                    "This name is taken. Choose another one, perhaps with the first letter of the surname."
                ),
                "invalid": _("Use letters, digits and @ . + - _ only, without spaces."),
            },
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:
            self.fields["temporary_password"].required = True
            self.fields["temporary_password"].error_messages["required"] = _("Set a password to begin with.")
            del self.fields["is_active"]
        names = Div("first_name", "last_name", css_class="two-columns")
        active = ["is_active"] if "is_active" in self.fields else []
        self.helper = desk_helper(Layout("username", names, "email", "role", *active, "temporary_password"))

    def full_clean(self) -> None:
        super().full_clean()
        self._ask_for_the_password_again()

    def refuse(self, field: str, message: str) -> None:
        """Say what a service has against what was typed."""
        self.add_error(field, message)
        self._ask_for_the_password_again()

    def _ask_for_the_password_again(self) -> None:
        """A page never carries a password back: whoever must correct something else types it once more."""
        if self.errors and self.cleaned_data.get("temporary_password"):
            self.add_error(
                "temporary_password",
                _("Type the temporary password once more; for safety it is not kept on this page."),
            )

    def clean_username(self) -> str:
        username: str = Staff.normalize_username(self.cleaned_data["username"])
        return username

    def clean(self) -> dict[str, Any] | None:
        super().clean()
        password = self.cleaned_data.get("temporary_password")
        if password:
            person = Staff(
                **{k: v for k, v in self.cleaned_data.items() if k in {"username", "first_name", "last_name"}}
            )
            try:
                password_validation.validate_password(password, person)
            except ValidationError as error:
                self.add_error("temporary_password", error)
        return self.cleaned_data

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.Meta.fields if name in self.cleaned_data}
