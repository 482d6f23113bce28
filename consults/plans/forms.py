"""Forms of the plan builder."""

import datetime
from collections.abc import Sequence
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.choices import When
from consults.models import PlanAction
from consults.plans.labels import RUNGS, place_of, rung_of_line
from garden.forms import desk_helper
from garden.models import Grower


class Fold(Div):  # type: ignore[misc]
    """Fields behind a line that opens them."""

    template = "plans/_fold.html"

    def __init__(self, summary: str, *fields: str) -> None:
        super().__init__(*fields)
        self.summary = summary


class ActionForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = PlanAction
        fields = ["included", "when", "text", "quantity", "worked_when", "stop_when"]
        widgets = {
            name: forms.Textarea(attrs={"rows": 2})
            for name in ("text", "quantity", "worked_when", "stop_when")
        }

    def __init__(self, *args: Any, cautions: Sequence[str] = (), waits_for: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.cautions, self.waits_for = cautions, waits_for
        self.rung = RUNGS[rung_of_line(self.instance)] if self.instance.pk else ""
        self.place = place_of(self.instance.code)
        self.helper = desk_helper(
            Layout(
                *(["included"] if self.instance.pk else []),
                "text",
                Div("quantity", "when", css_class="action-row"),
                Fold(_("How to know it worked, when to stop"), "worked_when", "stop_when"),
            ),
            button="" if self.instance.pk else _("Add this line"),
            tag=False,
        )
        if not self.instance.pk:
            del self.fields["included"]
            self.fields["when"].initial = When.TODAY

    def values(self) -> dict[str, Any]:
        """What was sent. The folded parts count only where they were: an older page does not empty them."""
        folded = {name for name in ("worked_when", "stop_when") if self.add_prefix(name) not in self.data}
        return {name: value for name, value in self.cleaned_data.items() if name not in folded}


class PlanWordsForm(forms.Form):
    greeting = forms.CharField(
        label=gettext_lazy("Opening words (optional)"),
        required=False,
        max_length=1200,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    look_again_on = forms.DateField(
        label=gettext_lazy("We look again on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = desk_helper(Layout("greeting", "look_again_on"), button="", tag=False)

    def clean_look_again_on(self) -> datetime.date | None:
        day: datetime.date | None = self.cleaned_data["look_again_on"]
        if day is not None and day < timezone.localdate():
            raise forms.ValidationError(_("This day has passed. Choose today or a later day."))
        return day


class IssueForm(forms.Form):
    send_email = forms.BooleanField(required=False)

    def __init__(self, *args: Any, grower: Grower, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["send_email"]
        field.label = _("Email it to %(address)s") % {"address": grower.email or _("(no address)")}
        field.initial = grower.may_be_emailed
        if not grower.may_be_emailed:
            field.disabled = True
            field.initial = False
            field.help_text = (
                _(
                    "Mail to this address came back. Correct it on the grower's page,"
                    " or note there that it works again."
                )
                if grower.email_unreachable_at
                else _(
                    "The grower has not agreed to email, or there is no address."
                    " Enter both on the grower's page."
                )
            )
        self.helper = desk_helper(button=_("Issue the plan"), tag=False)
