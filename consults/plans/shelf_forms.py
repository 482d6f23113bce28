"""The form of a shelf item."""

from decimal import Decimal
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from consults.models import ShelfItem
from consults.plans.ways import load_needs, way_of
from consults.rules.selectors import ruleset_current
from consults.shop.money import amount_of, decimals_of, minor_of
from garden.forms import desk_helper
from garden.reference.schema import text

_HIGHEST_PRICE = 2_000_000_000  # in smallest coins: what the column holds on every database
UNITS = [
    ("piece", _("pieces")),
    ("test", _("tests")),
    ("g", "g"),
    ("kg", "kg"),
    ("ml", "ml"),
    ("L", "L"),
    ("m", "m"),
]


def need_choices() -> list[tuple[str, str]]:
    """What an item may be for: the known needs, and actions that buy something nobody has named."""
    language = get_language() or "en"
    needs = [(need.code, text(need.name, language)) for need in load_needs().values()]
    actions = {
        action.code: text(action.text, language)
        for cause in ruleset_current().causes.values()
        for action in cause.actions
        if action.buys and not way_of(action.code).needs
    }
    return needs + list(actions.items())


class ShelfItemForm(forms.ModelForm):  # type: ignore[type-arg]
    needs = forms.MultipleChoiceField(
        label=_("What it is for"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one thing, or no plan will find it.")},
    )
    unit = forms.ChoiceField(label=_("Unit"), choices=UNITS)
    price = forms.CharField(label=_("Price of a pack (optional)"), max_length=20, required=False)

    class Meta:
        model = ShelfItem
        fields = ["name", "pack_size", "in_stock", "note"]
        error_messages = {"name": {"required": _("The item needs a name.")}}

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.currency, item = currency, self.instance
        needs = self.fields["needs"]
        assert isinstance(needs, forms.MultipleChoiceField)  # noqa: S101 - it stands above
        needs.choices = need_choices()
        self.initial["needs"], self.initial["unit"] = item.needs, item.unit or "piece"
        if item.price_minor is not None:
            self.initial["price"] = str(amount_of(item.price_minor, item.currency))
        if item.pk and item.currency not in ("", currency):
            self.fields["price"].help_text = _(
                "This price was entered in %(old)s; the shop now has %(new)s. Saved, it counts as %(new)s."
            ) % {"old": item.currency, "new": currency}
        self.fields["price"].widget.attrs["inputmode"] = "decimal"
        self.fields["pack_size"].widget.attrs["inputmode"] = "decimal"
        if not item.pk:
            self.initial["pack_size"] = 1
        self.helper = desk_helper(
            Layout(
                "name",
                Div("pack_size", "unit", "price", css_class="field-row"),
                "in_stock",
                "note",
                Div("needs", css_class="need-list"),
            )
        )

    def clean_pack_size(self) -> Decimal:
        size: Decimal = self.cleaned_data["pack_size"]
        if size <= 0:
            raise ValidationError(_("A pack holds more than nothing."))
        return size

    def clean_price(self) -> int | None:
        typed = self.cleaned_data["price"].strip().replace(" ", "").replace(",", ".")
        if not typed:
            return None
        try:
            minor = minor_of(Decimal(typed), self.currency)
        except (ArithmeticError, ValueError):
            minor = -1
        if not 0 <= minor <= _HIGHEST_PRICE:
            words = {"decimals": decimals_of(self.currency), "example": amount_of(1250, self.currency)}
            raise ValidationError(
                _("Write an amount with at most %(decimals)s decimals, such as %(example)s.") % words
            )
        return minor

    def values(self) -> dict[str, Any]:
        """What the service takes."""
        parts = ("name", "needs", "unit", "pack_size", "in_stock", "note")
        return {name: self.cleaned_data[name] for name in parts} | {"price_minor": self.cleaned_data["price"]}
