"""Two fields: what they asked, what we said."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from consults.models import Question
from garden.forms import desk_helper
from garden.models import Grower


class QuestionForm(forms.ModelForm):  # type: ignore[type-arg]
    grower = forms.ModelChoiceField(
        queryset=Grower.objects.all(),
        required=False,
        widget=forms.HiddenInput,
        error_messages={
            "invalid_choice": _("This grower is not here any more. Save without, or search again.")
        },
    )

    class Meta:
        model = Question
        fields = ["grower", "words", "answer"]
        widgets = {
            "words": forms.Textarea(attrs={"rows": 4}),
            "answer": forms.Textarea(attrs={"rows": 4}),
        }
        help_texts = {"answer": _("May wait. Without an answer the question stays open on the start page.")}
        error_messages = {"words": {"required": _("Write the question down, as they said it.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = desk_helper(Layout("grower", "words", "answer"))
