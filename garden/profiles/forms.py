"""What a profile is based on, its name, and its limits: in all stages of growth, or in one."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from garden.agronomy.units import System
from garden.forms import desk_helper
from garden.models import CropProfile
from garden.profiles.bands_form import BandsForm
from garden.profiles.limits import standing
from garden.reference.loader import load_reference, text
from garden.reference.schema import Crop


class BaseForm(forms.Form):
    """The first step of a new profile."""

    based_on = forms.ChoiceField(
        label=gettext_lazy("Based on"),
        help_text=gettext_lazy("The nearest crop we have. You then change only what differs."),
        error_messages={
            "required": gettext_lazy("Choose what the profile is based on."),
            "invalid_choice": gettext_lazy("We have no such crop. Choose one of the list."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lang = get_language() or "en"
        crops = [(code, text(crop.name, lang)) for code, crop in load_reference().crops.items()]
        field = self.fields["based_on"]
        field.choices = [("", _("Choose …")), *sorted(crops, key=lambda pair: pair[1].casefold())]  # type: ignore[attr-defined]
        self.helper = desk_helper(button=_("Go on"))
        self.helper.form_method = "get"
        self.helper.disable_csrf = True


class ProfileForm(BandsForm):
    """A profile and its limits for all stages."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("Such as the variety. It is offered where a garden is described."),
        error_messages={"required": gettext_lazy("Write the name of the crop or variety.")},
    )
    note = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("Where these limits come from, for those who ask later."),
    )

    def __init__(
        self, *args: Any, base: Crop, system: System, profile: CropProfile | None = None, **kwargs: Any
    ) -> None:
        own = profile.bands if profile else {}
        super().__init__(*args, own=own, greyed=standing(base, own), base=base, system=system, **kwargs)
        if profile:
            self.initial.update(name=profile.name, note=profile.note)
        # Crispy draws what stands above the rows; the page draws the rows, and the form with its token.
        self.helper = desk_helper(Layout(Div("name", "note", css_class="two-columns")), button="", tag=False)
        self.helper.disable_csrf = True

    def values(self) -> dict[str, Any]:
        """What the valid form says."""
        return {
            "name": self.cleaned_data["name"],
            "note": self.cleaned_data["note"],
            "bands": self.own_bands(),
        }


class StageForm(BandsForm):
    """The limits of a profile in one stage of growth."""

    def __init__(self, *args: Any, base: Crop, system: System, profile: CropProfile, stage: str) -> None:
        greyed = standing(base, profile.bands, stage)
        super().__init__(*args, own=profile.stages.get(stage, {}), greyed=greyed, base=None, system=system)
