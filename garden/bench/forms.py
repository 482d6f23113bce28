"""The form of a tool: made from its fields, filled from what was typed, from a garden, or left empty."""

from collections.abc import Mapping
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field as Drawn
from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.bench.amounts import AmountField
from garden.bench.tool import Field, Tool, Value

_FIELD = "bench/_field.html"
_LONG = 30  # letters that half a column cannot show


class SearchForm(forms.Form):
    """Looks for a question by the words in it."""

    q = forms.CharField(
        label=gettext_lazy("What was asked"),
        required=False,
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )

    @property
    def helper(self) -> FormHelper:
        helper = FormHelper()
        helper.form_tag = False
        helper.disable_csrf = True
        return helper


class ToolForm(forms.Form):
    """Always bound: `sent` is what was typed (absent fields come from the garden's `known` values)."""

    def __init__(
        self, tool: Tool, *, sent: Mapping[str, str], known: Mapping[str, Value], system: str
    ) -> None:
        self.tool, self.known = tool, known
        made = {field.name: _made(field, known.get(field.prefill), system) for field in tool.fields}
        data = {
            field.name: sent.get(field.name, _start(field, made[field.name], known)) for field in tool.fields
        }
        super().__init__(data, auto_id="in-%s")
        for name, field in made.items():
            field.widget.attrs["aria-describedby"] = f"said-{name}"
        self.fields.update(made)

    @property
    def helper(self) -> FormHelper:
        helper = FormHelper()
        helper.form_tag = False
        helper.disable_csrf = True
        helper.layout = Layout(*(Drawn(name, template=_FIELD) for name in self.fields))
        return helper

    @property
    def untouched(self) -> bool:
        """Nothing is typed and no garden is asked about: the examples stand."""
        return not self.known and not any(
            self.data[field.name].strip() for field in self.tool.fields if field.choices is None
        )

    @property
    def missing(self) -> list[str]:
        """Labels of what must still be filled in."""
        return [
            str(field.label)
            for field in self.tool.fields
            if not field.optional and not self.data[field.name].strip()
        ]

    def values(self) -> dict[str, Value]:
        """What to compute with: the examples while nothing is typed, else what was typed."""
        if self.untouched:
            chosen = {
                field.name: self.cleaned_data[field.name] for field in self.tool.fields if field.choices
            }
            shown = {
                name: made.example for name, made in self.fields.items() if isinstance(made, AmountField)
            }
            return {**self.tool.example(), **shown, **chosen}
        return dict(self.cleaned_data)

    def shown_in(self, system: str) -> dict[str, str]:
        """What was typed, said in another system of units, for the address."""
        said = {}
        for spec in self.tool.fields:
            field, typed = self.fields[spec.name], self.data[spec.name]
            value = self.cleaned_data.get(spec.name)
            if isinstance(field, AmountField) and isinstance(value, float | int):
                typed = AmountField(spec, system, float(value)).initial_text
            said[spec.name] = typed
        return said


def _made(field: Field, known: Value, system: str) -> forms.Field:
    if field.choices is not None:
        choices = field.choices()
        long = any(len(name) > _LONG for _code, name in choices)
        return forms.ChoiceField(
            label=field.label,
            choices=choices,
            widget=forms.Select(attrs={"data-wide": ""} if long else {}),
            required=not field.optional,
            help_text=field.help,
            error_messages={"invalid_choice": _("Choose one of the list.")},
        )
    if field.rows:
        attrs = {
            "rows": field.rows,
            "placeholder": field.example,
            "autocomplete": "off",
            "spellcheck": "false",
        }
        return forms.CharField(
            label=field.label, required=False, max_length=4000, help_text=field.help,
            widget=forms.Textarea(attrs=attrs),
        )  # fmt: skip
    return AmountField(field, system, float(known) if isinstance(known, float | int) else None)


def _start(field: Field, made: forms.Field, known: Mapping[str, Value]) -> str:
    """What a field holds before anybody types."""
    if isinstance(made, AmountField):
        return made.initial_text
    given: Any = known.get(field.prefill)
    if field.choices is None:
        return str(given or "")
    allowed = {code for code, _name in field.choices()}
    # A garden that does not say the stage leaves it open; an empty page shows the example.
    fallback = "" if known and field.optional and field.prefill else str(field.example or "")
    return str(given) if given in allowed else fallback
