"""The one question before a grower is erased."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from garden.forms import desk_helper
from garden.models import Grower


class ErasureForm(forms.Form):
    """Confirmed by typing the grower's name: nobody does that by accident."""

    typed_name = forms.CharField(
        label=_("The grower's name, to confirm"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, grower: Grower, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.grower = grower
        self.fields["typed_name"].help_text = _("Type it as it stands above: %(name)s") % {
            "name": grower.name
        }
        self.helper = desk_helper(button=_("Erase for good"))
        self.helper.inputs[0].field_classes = "btn btn-tag"

    def clean_typed_name(self) -> str:
        typed: str = self.cleaned_data["typed_name"]
        if _plain(typed) != _plain(self.grower.name):
            raise forms.ValidationError(_("This is not the name of this grower. Nothing was erased."))
        return typed


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
