"""The one number the interview asks that is no reading."""

from django import forms
from django.utils.translation import gettext_lazy as _

from garden.forms import desk_helper


class OnsetForm(forms.Form):
    days = forms.IntegerField(
        label=_("Days"),
        min_value=0,
        max_value=3650,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "required": _("Enter the days, or say that nobody knows."),
            "max_value": _("That is more than ten years. Enter the days since it began."),
        },
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.helper = desk_helper(button="", tag=False)
